//! Order statistics.

/// The middle value, the upper of two; 0 of none. The order of the values is lost.
pub fn median(values: &mut [f32]) -> f32 {
    let middle = values.len() / 2;
    if values.is_empty() { 0.0 } else { *values.select_nth_unstable_by(middle, f32::total_cmp).1 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_none_one_two_and_five() {
        assert_eq!(median(&mut []), 0.0);
        assert_eq!(median(&mut [3.0]), 3.0);
        assert_eq!(median(&mut [2.0, 1.0]), 2.0);
        assert_eq!(median(&mut [5.0, -1.0, 4.0, 2.0, 3.0]), 3.0);
    }
}
