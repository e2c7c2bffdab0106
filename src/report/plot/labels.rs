//! Labels in a column beside the plot, each as near to its curve's end as the others allow.

/// Moves wanted places apart so that neighbours are at least `gap` apart, all between `low` and `high` if they fit; order is kept.
/// Gives one place for each wanted one, in the same order.
pub(super) fn spread(wanted: &[f64], gap: f64, low: f64, high: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    let place = |index: &usize| wanted.get(*index).copied().unwrap_or(low);
    order.sort_by(|one, other| place(one).total_cmp(&place(other)));
    // Groups of labels that touch: first wanted place of the group's top, and how many.
    let mut groups: Vec<(f64, usize)> = Vec::new();
    for index in &order {
        let mut group = (place(index), 1);
        while let Some((top, count)) = groups.last().copied().filter(|(top, count)| top + gap * *count as f64 > group.0) {
            groups.pop();
            // The group sits where its labels are, on average, least far from where they want to be.
            let total = (count + group.1) as f64;
            let tops = top * count as f64 + (group.0 - gap * count as f64) * group.1 as f64;
            group = (tops / total, count + group.1);
            let most = high - gap * (group.1 as f64 - 1.0);
            group.0 = group.0.min(most).max(low);
        }
        let most = high - gap * (group.1 as f64 - 1.0);
        group.0 = group.0.min(most).max(low);
        groups.push(group);
    }
    let places = groups
        .iter()
        .flat_map(|(top, count)| (0..*count).map(move |step| top + gap * step as f64));
    let mut found = vec![low; wanted.len()];
    for (index, place) in order.into_iter().zip(places) {
        if let Some(own) = found.get_mut(index) {
            *own = place;
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::spread;

    #[test]
    fn labels_with_room_stay_and_others_move_apart() {
        assert_eq!(spread(&[10.0, 50.0, 90.0], 20.0, 0.0, 100.0), [10.0, 50.0, 90.0]);
        assert_eq!(spread(&[52.0, 48.0], 20.0, 0.0, 100.0), [60.0, 40.0]);
        assert_eq!(spread(&[99.0, 100.0, 98.0], 20.0, 0.0, 100.0), [80.0, 100.0, 60.0]);
        assert!(spread(&[], 20.0, 0.0, 100.0).is_empty());
    }

    #[test]
    fn no_two_are_nearer_than_the_gap() {
        let wanted: Vec<f64> = (0..24).map(|index| f64::from(index * index % 17) * 9.0).collect();
        let mut found = spread(&wanted, 20.0, 0.0, 480.0);
        found.sort_by(f64::total_cmp);
        assert!(found.windows(2).all(|pair| pair[1] - pair[0] >= 20.0 - 1e-9), "{found:?}");
        assert!(found[0] >= 0.0 && found[23] <= 480.0 + 1e-9);
    }
}
