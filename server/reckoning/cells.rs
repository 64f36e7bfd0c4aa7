//! Tables that are read and written by position, with no way to stop the program.

/// A table by position. A place outside the table reads as nothing (zero, false, `None`) and is not written to.
pub(super) trait Cells<T> {
    /// What stands at a place.
    fn at(&self, place: usize) -> T;

    /// Writes to a place.
    fn put(&mut self, place: usize, value: T);
}

impl<T: Copy + Default, S: AsRef<[T]> + AsMut<[T]> + ?Sized> Cells<T> for S {
    fn at(&self, place: usize) -> T {
        self.as_ref().get(place).copied().unwrap_or_default()
    }

    fn put(&mut self, place: usize, value: T) {
        if let Some(cell) = self.as_mut().get_mut(place) {
            *cell = value;
        }
    }
}
