//! Yields and performance ratio as the standards for solar systems define them, with the storage
//! correction that a short stand-alone record needs.

/// Energies of a period, all Wh, and what they are compared with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Period {
    /// Label power of the array, W.
    pub array_w: f64,
    /// Irradiation in the array's plane, Wh/m2.
    pub irradiation_wh_m2: f64,
    /// Energy from the array.
    pub array_wh: f64,
    /// Energy to the loads.
    pub load_wh: f64,
    /// Rise of the energy stored in the bank.
    pub stored_wh: f64,
}

/// Hours at label power, and their ratios.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Yields {
    /// What the sun offered, h.
    pub reference_h: f64,
    /// What the array gave, h.
    pub array_h: f64,
    /// What the loads got, h.
    pub final_h: f64,
    /// Reference less array yield: lost in capture, h.
    pub capture_loss_h: f64,
    /// Array less final yield: lost in the system, h.
    pub system_loss_h: f64,
    /// Final over reference yield.
    pub performance_ratio: f64,
    /// Array over reference yield.
    pub array_ratio: f64,
    /// Final yield with the rise of stored energy counted as useful, h.
    pub stored_final_h: f64,
    /// That over the reference yield.
    pub stored_performance_ratio: f64,
}

impl Period {
    /// The yields of the period; `None` without an array or without sun.
    pub fn yields(&self) -> Option<Yields> {
        if self.array_w <= 0.0 || self.irradiation_wh_m2 <= 0.0 {
            return None;
        }
        let reference_h = self.irradiation_wh_m2 / 1000.0;
        let array_h = self.array_wh / self.array_w;
        let final_h = self.load_wh / self.array_w;
        let stored_final_h = (self.load_wh + self.stored_wh) / self.array_w;
        let yields = Yields {
            reference_h,
            array_h,
            final_h,
            capture_loss_h: reference_h - array_h,
            system_loss_h: array_h - final_h,
            performance_ratio: final_h / reference_h,
            array_ratio: array_h / reference_h,
            stored_final_h,
            stored_performance_ratio: stored_final_h / reference_h,
        };
        let ratios = [
            yields.performance_ratio,
            yields.array_ratio,
            stored_final_h / reference_h,
        ];
        ratios.iter().all(|r| r.is_finite()).then_some(yields)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_sun_has_no_ratio() {
        let dark = Period {
            array_w: 300.0,
            irradiation_wh_m2: 0.0,
            array_wh: 0.0,
            load_wh: 90.0,
            stored_wh: -100.0,
        };
        assert_eq!(dark.yields(), None);
        let lit = Period {
            irradiation_wh_m2: 2000.0,
            array_wh: 300.0,
            ..dark
        };
        assert_eq!(lit.yields().map(|y| y.array_ratio), Some(0.5));
    }
}
