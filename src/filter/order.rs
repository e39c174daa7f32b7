//! Order statistics.

/// The middle value, the upper of two; 0 of none. The order of the values is lost.
pub fn median(values: &mut [f32]) -> f32 {
    quantile(values, 0.5)
}

/// The value below which a share (0..1) of all lies; 0 of none. The order of the values is lost.
pub fn quantile(values: &mut [f32], share: f32) -> f32 {
    let at = (values.len() as f32 * share) as usize;
    match values.len() {
        0 => 0.0,
        count => *values.select_nth_unstable_by(at.min(count - 1), f32::total_cmp).1,
    }
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
        assert_eq!(quantile(&mut [5.0, -1.0, 4.0, 2.0, 3.0], 0.8), 5.0);
        assert_eq!(quantile(&mut [5.0, -1.0], 1.0), 5.0);
    }
}
