//! Figures of every moment, most of them nothing: by night, and for whatever went well.

use std::ops::Index;

/// Moments kept together: two hours and forty minutes.
const TOGETHER: usize = 32;

/// One figure a moment, in order. Takes memory only where it is not nothing (its default).
#[derive(Debug, Clone, PartialEq)]
pub struct Stretches<T> {
    stretches: Vec<Option<Box<[T; TOGETHER]>>>,
    len: usize,
    nothing: T,
}

impl<T: Copy + Default + PartialEq> Default for Stretches<T> {
    fn default() -> Self {
        Self {
            stretches: Vec::new(),
            len: 0,
            nothing: T::default(),
        }
    }
}

impl<T: Copy + Default + PartialEq> Stretches<T> {
    /// Nothing in so many moments.
    pub fn nothing(moments: usize) -> Self {
        Self {
            stretches: vec![None; moments.div_ceil(TOGETHER)],
            len: moments,
            nothing: T::default(),
        }
    }

    /// Adds the figure of the next moment.
    pub fn push(&mut self, figure: T) {
        if self.len.is_multiple_of(TOGETHER) {
            self.stretches.push(None);
        }
        self.len += 1;
        self.set(self.len - 1, figure);
    }

    /// Puts a figure in the place of a moment's.
    pub fn set(&mut self, moment: usize, figure: T) {
        let nothing = self.nothing;
        let stretch = &mut self.stretches[moment / TOGETHER];
        if stretch.is_some() || figure != nothing {
            stretch.get_or_insert_with(|| Box::new([nothing; TOGETHER]))[moment % TOGETHER] =
                figure;
        }
    }

    /// Every moment's figure.
    pub fn iter(&self) -> impl ExactSizeIterator<Item = &T> + Clone {
        (0..self.len).map(|moment| &self[moment])
    }
}

impl<T> Index<usize> for Stretches<T> {
    type Output = T;

    fn index(&self, moment: usize) -> &T {
        assert!(moment < self.len, "moment {moment} of {}", self.len);
        self.stretches[moment / TOGETHER]
            .as_ref()
            .map_or(&self.nothing, |stretch| &stretch[moment % TOGETHER])
    }
}

impl<T: Copy + Default + PartialEq> FromIterator<T> for Stretches<T> {
    fn from_iter<I: IntoIterator<Item = T>>(figures: I) -> Self {
        let mut all = Self::default();
        figures.into_iter().for_each(|figure| all.push(figure));
        all
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_kept_and_nothing_takes_no_room() {
        let figures: Vec<f64> = (0..1_000)
            .map(|m| if m / 100 % 2 == 0 { 0.0 } else { f64::from(m) })
            .collect();
        let mut kept: Stretches<f64> = figures.iter().copied().collect();
        assert_eq!(kept.iter().copied().collect::<Vec<_>>(), figures);
        assert!(kept.stretches.iter().any(Option::is_none));
        assert_eq!(Stretches::<f64>::nothing(1_000).iter().count(), 1_000);
        kept.set(0, 7.0);
        assert_eq!((kept[0], kept[1], kept[999]), (7.0, 0.0, 999.0));
    }
}
