//! Planes turned to the east: flat panels lean there, steep ones look there.

/// How a plane gets to look further to the east or west than on paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turn {
    /// It leans, about the line from south to north.
    Lean,
    /// It looks another way, about the upright.
    Bearing,
}

/// Degrees by which a lean goes unnoticed, and a bearing is off that was taken by hand: of the two, what tips a
/// plane further is the likelier.
const USUAL_DEG: (f64, f64) = (3.0, 10.0);
/// The least worth reckoning with, degrees of each.
const LEAST_DEG: (f64, f64) = (0.7, 2.0);
/// The most believed, degrees of each: a floor on which nothing stays put, and the next point of the compass.
const MOST_DEG: (f64, f64) = (15.0, 45.0);

impl Turn {
    /// Of a plane by its tilt and facing, degrees.
    pub fn of((tilt_deg, facing_deg): (f64, f64)) -> Self {
        let tilt = tilt_deg.to_radians();
        let by_bearing = tilt.sin() * facing_deg.to_radians().cos().abs() * USUAL_DEG.1;
        match by_bearing > tilt.cos() * USUAL_DEG.0 {
            true => Self::Bearing,
            false => Self::Lean,
        }
    }

    /// The least worth reckoning with, degrees.
    pub fn least_deg(self) -> f64 {
        self.one_of(LEAST_DEG)
    }

    /// The most believed, degrees.
    pub fn most_deg(self) -> f64 {
        self.one_of(MOST_DEG)
    }

    fn one_of(self, (lean, bearing): (f64, f64)) -> f64 {
        match self {
            Self::Lean => lean,
            Self::Bearing => bearing,
        }
    }
}

/// Tilt and facing of a plane turned to the east, degrees; to the west where that is negative.
pub fn eastward((tilt_deg, facing_deg): (f64, f64), turn: Turn, east_deg: f64) -> (f64, f64) {
    match turn {
        Turn::Lean => leaned(tilt_deg, facing_deg, east_deg),
        Turn::Bearing => {
            // From the north the east lies clockwise, from the south the other way.
            let clockwise = facing_deg.to_radians().cos() > 0.0;
            let turned = if clockwise { east_deg } else { -east_deg };
            (tilt_deg, (facing_deg + turned).rem_euclid(360.0))
        }
    }
}

/// A plane turned about the line from south to north.
fn leaned(tilt_deg: f64, facing_deg: f64, east_deg: f64) -> (f64, f64) {
    let (tilt, facing, lean) = (
        tilt_deg.to_radians(),
        facing_deg.to_radians(),
        east_deg.to_radians(),
    );
    let (east, north, up) = (
        tilt.sin() * facing.sin(),
        tilt.sin() * facing.cos(),
        tilt.cos(),
    );
    let (east, up) = (
        east * lean.cos() + up * lean.sin(),
        up * lean.cos() - east * lean.sin(),
    );
    (
        up.clamp(-1.0, 1.0).acos().to_degrees(),
        east.atan2(north).to_degrees().rem_euclid(360.0),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_flat_array_that_leans_east_looks_east() {
        let (tilt, facing) = leaned(0.0, 180.0, 3.0);
        assert!((tilt - 3.0).abs() < 1e-9 && (facing - 90.0).abs() < 1e-9);
        let (tilt, facing) = leaned(0.0, 180.0, -3.0);
        assert!((tilt - 3.0).abs() < 1e-9 && (facing - 270.0).abs() < 1e-9);
    }

    #[test]
    fn one_that_looks_west_is_flattened_by_it_and_back_again() {
        let (tilt, facing) = leaned(20.0, 270.0, 5.0);
        assert!((tilt - 15.0).abs() < 1e-9 && (facing - 270.0).abs() < 1e-9);
        let (tilt, facing) = leaned(30.0, 140.0, 4.0);
        let back = leaned(tilt, facing, -4.0);
        assert!((back.0 - 30.0).abs() < 1e-9 && (back.1 - 140.0).abs() < 1e-9);
    }

    #[test]
    fn steep_panels_look_east_of_south_and_of_north_alike() {
        let plane = (50.0, 180.0);
        assert_eq!(Turn::of(plane), Turn::Bearing);
        assert_eq!(eastward(plane, Turn::Bearing, 20.0), (50.0, 160.0));
        assert_eq!(eastward((50.0, 350.0), Turn::Bearing, 20.0), (50.0, 10.0));
    }

    #[test]
    fn flat_panels_and_those_that_look_east_lean() {
        for plane in [(0.0, 180.0), (10.0, 180.0), (50.0, 90.0)] {
            assert_eq!(Turn::of(plane), Turn::Lean, "{plane:?}");
        }
    }
}
