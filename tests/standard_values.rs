//! The preferred numbers of IEC 60063: counts and sums of the published lists, the formula of the finer series and its one exception.
//! The standard's own text was not to be had; the lists were checked against two public copies when they were taken over.

use knobwright::parts::series::Series;
use knobwright::units::rkm;

/// The values of one decade as the standard prints them: two figures to E24, three from E48 on.
fn figures(series: Series) -> Vec<u32> {
    let scale = if series <= Series::E24 { 10.0 } else { 100.0 };
    series
        .mantissas()
        .iter()
        .map(|mantissa| (mantissa * scale).round() as u32)
        .collect()
}

fn gap(values: &[u32]) -> (u32, u32, f64) {
    let decade = if values[0] == 10 { 100 } else { 1000 };
    let next = values.iter().skip(1).copied().chain([decade]);
    let ratio = |pair: &(u32, u32)| f64::from(pair.1) / f64::from(pair.0);
    let widest = values
        .iter()
        .copied()
        .zip(next)
        .reduce(|best, pair| if ratio(&pair) > ratio(&best) { pair } else { best });
    let (low, high) = widest.unwrap();
    (low, high, 100.0 * ((f64::from(high) / f64::from(low)).sqrt() - 1.0))
}

// Counts by definition; sums and gaps computed from the public lists.
#[test]
fn counts_sums_and_widest_gaps() {
    let expected = [
        (Series::E3, 3, 79, 10, 22, 48.3),
        (Series::E6, 6, 195, 10, 15, 22.5),
        (Series::E12, 12, 429, 12, 15, 11.8),
        (Series::E24, 24, 901, 13, 15, 7.42),
        (Series::E48, 48, 18_313, 169, 178, 2.63),
        (Series::E96, 96, 37_070, 133, 137, 1.49),
        (Series::E192, 192, 74_599, 102, 104, 0.98),
    ];
    for (series, count, sum, low, high, half_gap) in expected {
        let values = figures(series);
        assert_eq!(values.len(), count, "{series}");
        assert_eq!(values.iter().sum::<u32>(), sum, "{series}");
        assert!(values.windows(2).all(|pair| pair[0] < pair[1]), "{series}");
        let (from, to, percent) = gap(&values);
        assert_eq!((from, to), (low, high), "{series}");
        assert!((percent - half_gap).abs() < 0.05, "{series}: {percent}");
    }
}

// IEC 60063, the historical two-figure series.
#[test]
fn the_two_figure_lists() {
    assert_eq!(figures(Series::E3), [10, 22, 47]);
    assert_eq!(figures(Series::E6), [10, 15, 22, 33, 47, 68]);
    assert_eq!(figures(Series::E12), [10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82]);
    let e24 = [
        10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91,
    ];
    assert_eq!(figures(Series::E24), e24);
    let rounded = |index: u32| (10.0 * 10f64.powf(f64::from(index) / 24.0)).round() as u32;
    let off: Vec<u32> = (0..24)
        .zip(e24)
        .filter(|(index, value)| rounded(*index) != *value)
        .map(|(_, value)| value)
        .collect();
    assert_eq!(off, [27, 30, 33, 36, 39, 43, 47, 82], "eight of E24 are not the rounded formula");
}

// IEC 60063: 10^(i/n) to three figures; 9.20 in E192 where the formula gives 9.19.
#[test]
fn the_three_figure_lists_are_the_rounded_formula_but_for_9_20() {
    for (series, count) in [(Series::E48, 48), (Series::E96, 96), (Series::E192, 192)] {
        for (index, value) in (0..count).zip(figures(series)) {
            let formula = (100.0 * 10f64.powf(f64::from(index) / f64::from(count))).round() as u32;
            let expected = if count == 192 && index == 185 { 920 } else { formula };
            assert_eq!(value, expected, "{series} at {index}");
        }
    }
}

#[test]
fn which_series_contain_which() {
    let contained = |part: Series, whole: Series| {
        let whole = whole.mantissas();
        part.mantissas()
            .iter()
            .copied()
            .filter(|value| whole.contains(value))
            .collect::<Vec<_>>()
    };
    for pair in [
        (Series::E3, Series::E6),
        (Series::E6, Series::E12),
        (Series::E12, Series::E24),
        (Series::E48, Series::E96),
        (Series::E96, Series::E192),
    ] {
        assert_eq!(contained(pair.0, pair.1), pair.0.mantissas(), "{} in {}", pair.0, pair.1);
    }
    // Also stated in chip-resistor data pages: "values 10/11/13/15/20/75 of E24".
    assert_eq!(contained(Series::E24, Series::E96), [1.0, 1.1, 1.3, 1.5, 2.0, 7.5]);
    assert_eq!(
        contained(Series::E24, Series::E192),
        [1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.4, 4.7, 7.5]
    );
    assert_eq!(contained(Series::E12, Series::E96), [1.0, 1.5]);
}

#[test]
fn a_range_holds_its_ends_and_the_doubles_of_the_literals() {
    assert_eq!(Series::E3.values(4.7e-9, 4.7e-8), [4.7e-9, 1e-8, 2.2e-8, 4.7e-8]);
    assert_eq!(Series::E12.values(1e3, 1e6).len(), 37);
    assert_eq!(Series::E24.values(1e3, 1e6).len(), 73);
    assert_eq!(Series::E12.values(100e-12, 22e-9).first(), Some(&1e-10));
    assert_eq!(Series::E12.values(100e-12, 22e-9).last(), Some(&2.2e-8));
    assert_eq!(Series::E6.values(500.0, 600.0), [0.0; 0]);
    for value in Series::E192.values(1e-12, 1e9) {
        // The shortest text of each value has no more figures than the list.
        assert!(
            rkm(value, "R").chars().filter(|sign| ('1'..='9').contains(sign)).count() <= 3,
            "{value:e}"
        );
    }
}

#[test]
fn ranges_that_are_none_are_empty() {
    for (low, high) in [
        (0.0, 1.0),
        (-1.0, 1.0),
        (f64::NAN, 1.0),
        (1.0, f64::NAN),
        (1.0, f64::INFINITY),
        (10.0, 1.0),
    ] {
        assert!(Series::E192.values(low, high).is_empty(), "{low} to {high}");
    }
    assert!(Series::E192.values(f64::MIN_POSITIVE, f64::MAX).len() > 600 * 192);
}

#[test]
fn neighbours_and_the_nearest_in_ratio() {
    assert_eq!(Series::E12.neighbours(76_123.0), Some((68e3, 82e3)));
    assert_eq!(Series::E24.nearest(76_123.0), Some(75e3));
    assert_eq!(Series::E12.neighbours(4.7e-9), Some((4.7e-9, 4.7e-9)));
    assert_eq!(Series::E3.neighbours(9.9), Some((4.7, 10.0)));
    assert_eq!(Series::E3.neighbours(1.1e-12), Some((1e-12, 2.2e-12)));
    // 14.9 is nearer to 10 in difference, yet nearer to 22 in ratio.
    assert_eq!(Series::E3.nearest(14.9), Some(22.0));
    for value in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(Series::E24.neighbours(value), None);
        assert_eq!(Series::E24.nearest(value), None);
    }
}

#[test]
fn names_and_tolerances() {
    for series in Series::ALL {
        assert_eq!(Series::named(series.name()), Some(series));
        assert_eq!(Series::named(&series.name().to_lowercase()), Some(series));
    }
    assert_eq!(Series::named("E25"), None);
    let tolerances = [None, Some(0.2), Some(0.1), Some(0.05), Some(0.02), Some(0.01), Some(0.005)];
    assert_eq!(
        Series::ALL.map(|series| series.usual_tolerance().map(|share| share.value())),
        tolerances
    );
}
