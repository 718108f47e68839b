//! The inverse of a small symmetric positive definite matrix.
//!
//! The part of a boat between its batteries has some tens of points; there the whole inverse is cheap, and every
//! question about a short or a missing device is answered from it.

/// A square matrix, row by row.
#[derive(Clone, Debug)]
pub(super) struct Matrix {
    pub(super) size: usize,
    values: Vec<f64>,
}

impl Matrix {
    /// All zero.
    pub(super) fn new(size: usize) -> Self {
        Self {
            size,
            values: vec![0.0; size * size],
        }
    }

    pub(super) fn at(&self, row: usize, column: usize) -> f64 {
        self.values[row * self.size + column]
    }

    /// Adds to one entry.
    pub(super) fn add(&mut self, row: usize, column: usize, value: f64) {
        self.values[row * self.size + column] += value;
    }

    /// The inverse by Gauss and Jordan in place; none where a pivot is not above zero, so that it is not definite.
    pub(super) fn inverse(mut self) -> Option<Self> {
        let size = self.size;
        for pivot in 0..size {
            let value = self.at(pivot, pivot);
            if value.is_nan() || value <= 0.0 {
                return None;
            }
            let scale = 1.0 / value;
            self.values[pivot * size + pivot] = 1.0;
            for column in 0..size {
                self.values[pivot * size + column] *= scale;
            }
            for row in (0..size).filter(|&row| row != pivot) {
                let factor = self.at(row, pivot);
                if factor == 0.0 {
                    continue;
                }
                self.values[row * size + pivot] = 0.0;
                for column in 0..size {
                    self.values[row * size + column] -= factor * self.values[pivot * size + column];
                }
            }
        }
        Some(self)
    }

    /// The product with a column.
    pub(super) fn times(&self, column: &[f64]) -> Vec<f64> {
        (0..self.size)
            .map(|row| (0..self.size).map(|at| self.at(row, at) * column[at]).sum())
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_inverse_undoes_the_matrix() {
        // Conductances of a bridge with one grounded end, siemens.
        let entries = [[4.0, -1.0, -2.0], [-1.0, 3.0, -1.0], [-2.0, -1.0, 5.0]];
        let mut matrix = Matrix::new(3);
        for (row, values) in entries.iter().enumerate() {
            for (column, &value) in values.iter().enumerate() {
                matrix.add(row, column, value);
            }
        }
        let inverse = matrix.clone().inverse().expect("definite");
        for unit in 0..3 {
            let mut column = vec![0.0; 3];
            column[unit] = 1.0;
            let back = matrix.times(&inverse.times(&column));
            for (row, value) in back.iter().enumerate() {
                let wanted = f64::from(u8::from(row == unit));
                assert!((value - wanted).abs() < 1e-12);
            }
        }
        assert!(Matrix::new(2).inverse().is_none());
    }
}
