//! Many judged scenes as a table: for every figure its mean, median and worst, and which scenes are the worst of all.

use super::figures::{FAILED, FIGURES, Figure, Judged};
use std::fmt::Write;

/// What a figure comes to over scenes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Summary {
    /// Mean.
    pub mean: f64,
    /// Median.
    pub median: f64,
    /// The worst.
    pub worst: f64,
    /// The seed of the worst.
    pub seed: u64,
    /// Scenes over the limit.
    pub over: usize,
    /// Scenes over [`FAILED`] times the limit.
    pub failed: usize,
}

/// A figure over those scenes that have a value for it; nothing where none has.
#[must_use]
pub fn summary(figure: &Figure, scenes: &[Judged]) -> Option<Summary> {
    let mut values: Vec<(f64, u64)> = scenes.iter().filter_map(|j| figure.of(j).map(|v| (v, j.seed))).collect();
    values.sort_by(|a, b| a.0.total_cmp(&b.0));
    let &(worst, seed) = values.last()?;
    let half = values.len() / 2;
    let middle = values[half].0;
    let over = |times: f64| scenes.iter().filter(|j| figure.excess(j) > times).count();
    Some(Summary {
        mean: values.iter().map(|v| v.0).sum::<f64>() / values.len() as f64,
        median: if values.len() % 2 == 1 { middle } else { 0.5 * (middle + values[half - 1].0) },
        worst,
        seed,
        over: over(1.0),
        failed: over(FAILED),
    })
}

/// The figure that a scene is worst in, by its limit, and how many times the limit that is.
#[must_use]
pub fn worst_figure(judged: &Judged) -> (&'static str, f64) {
    FIGURES.iter().map(|f| (f.name, f.excess(judged))).fold(("", 0.0), |a, b| if b.1 > a.1 { b } else { a })
}

/// The scenes from the worst on: by the figure that is the most times its limit.
#[must_use]
pub fn from_the_worst(scenes: &[Judged]) -> Vec<&Judged> {
    let mut sorted: Vec<&Judged> = scenes.iter().collect();
    sorted.sort_by(|a, b| worst_figure(b).1.total_cmp(&worst_figure(a).1).then(a.seed.cmp(&b.seed)));
    sorted
}

/// One line for a scene.
#[must_use]
pub fn line(judged: &Judged) -> String {
    let score = &judged.score;
    let (name, times) = worst_figure(judged);
    format!(
        "{:>5}  edge {:5.2}  band {:5.2}  everywhere {:5.2}  residue {:6.3} %  blobs {:3}  lost {:5.2} %  halo {:5.2}  worst {times:5.1} x {name}",
        judged.seed,
        score.edge.0,
        score.band.0,
        score.all.0,
        100.0 * score.residue,
        score.blobs,
        100.0 * score.lost,
        score.halo,
    )
}

/// The figures that tell which conditions a lift does badly under.
const TELLING: [&str; 7] = ["edge", "everywhere", "residue %", "lost %", "lost of pale %", "lost of gouache %", "halo, L*"];

/// The means of some figures over the scenes of each kind, a line a kind in alphabetical order, and over all of them.
#[must_use]
pub fn by_kind(scenes: &[Judged]) -> String {
    let mut kinds: Vec<&str> = scenes.iter().flat_map(|j| j.kinds.iter().copied()).collect();
    kinds.sort_unstable();
    kinds.dedup();
    let mut out = format!("{:20}{:>7}", "means", "scenes");
    for name in TELLING {
        let _ = write!(out, "{name:>18}");
    }
    out.push('\n');
    for kind in kinds.into_iter().map(Some).chain([None]) {
        let of: Vec<Judged> = scenes.iter().filter(|j| kind.is_none_or(|kind| j.kinds.contains(&kind))).cloned().collect();
        let _ = write!(out, "{:20}{:7}", kind.unwrap_or("all"), of.len());
        for name in TELLING {
            let _ = match summary(Figure::named(name), &of) {
                Some(s) => write!(out, "{:18.3}", s.mean),
                None => write!(out, "{:>18}", "-"),
            };
        }
        out.push('\n');
    }
    out
}

/// The table, the same by conditions, and the worst `named` scenes with theirs.
#[must_use]
pub fn table(scenes: &[Judged], named: usize) -> String {
    let mut out = format!(
        "{:24}{:>8}{:>9}{:>9}{:>9}{:>7}{:>6}{:>8}\n",
        format!("{} scenes", scenes.len()),
        "limit",
        "mean",
        "median",
        "worst",
        "seed",
        "over",
        format!("over {FAILED}x")
    );
    for figure in &FIGURES {
        let Some(s) = summary(figure, scenes) else { continue };
        let _ = write!(out, "{:24}", figure.name);
        let _ = match figure.limit {
            Some(limit) => write!(out, "{limit:8.2}"),
            None => write!(out, "{:>8}", "-"),
        };
        let _ = write!(out, "{:9.3}{:9.3}{:9.3}{:7}", s.mean, s.median, s.worst, s.seed);
        let _ = match figure.limit {
            Some(limit) if s.mean > limit => writeln!(out, "{:6}{:8}  too much", s.over, s.failed),
            Some(_) => writeln!(out, "{:6}{:8}", s.over, s.failed),
            None => writeln!(out),
        };
    }
    let _ = write!(out, "\n{}", by_kind(scenes));
    let failed = scenes.iter().filter(|j| worst_figure(j).1 > FAILED).count();
    let _ = writeln!(out, "\n{failed} of {} scenes are over {FAILED} times a limit. The worst:", scenes.len());
    for judged in from_the_worst(scenes).into_iter().take(named) {
        let mut over: Vec<(&str, f64)> =
            FIGURES.iter().map(|f| (f.name, f.excess(judged))).filter(|(_, times)| *times > FAILED).collect();
        over.sort_by(|a, b| b.1.total_cmp(&a.1));
        let _ = writeln!(out, "{:>5}  {}", judged.seed, judged.conditions);
        let words: Vec<String> = over.iter().map(|(name, times)| format!("{times:.1} x {name}")).collect();
        let _ = writeln!(out, "       {}", if words.is_empty() { "nothing over".to_owned() } else { words.join(", ") });
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::Score;

    fn judged(seed: u64, edge: f64) -> Judged {
        let score = Score { edge: (edge, 0.0), pixels: 729_000, sad: 4.0, ..Score::default() };
        let kinds = if seed.is_multiple_of(2) { vec!["gutter"] } else { Vec::new() };
        Judged { seed, conditions: "paper".into(), kinds, score, identity: None }
    }

    #[test]
    fn mean_median_and_worst() {
        let scenes = [judged(1, 0.5), judged(2, 6.5), judged(3, 2.0), judged(4, 1.0)];
        let edge = summary(&FIGURES[0], &scenes).expect("values");
        assert_eq!(FIGURES[0].name, "edge");
        assert_eq!(edge, Summary { mean: 2.5, median: 1.5, worst: 6.5, seed: 2, over: 2, failed: 1 });
        assert_eq!(summary(&FIGURES[0], &scenes[..3]).expect("values").median, 2.0);
        let sheet = Figure::named("alpha SAD per sheet");
        assert_eq!(sheet.of(&scenes[0]), Some(8.0), "twice as much on a sheet twice as large");
        let seeds: Vec<u64> = from_the_worst(&scenes).iter().map(|j| j.seed).collect();
        assert_eq!(seeds, [2, 3, 4, 1]);
        assert_eq!(worst_figure(&scenes[1]), ("edge", 5.0));
    }

    #[test]
    fn kinds_are_summed_up_apart() {
        let text = by_kind(&[judged(1, 0.5), judged(2, 6.5), judged(4, 1.5)]);
        let rows: Vec<Vec<&str>> = text.lines().skip(1).map(|line| line.split_whitespace().collect()).collect();
        assert_eq!(rows[0][..4], ["gutter", "2", "4.000", "0.000"]);
        assert_eq!(rows[1][..3], ["all", "3", "2.833"]);
        assert_eq!(rows.len(), 2);
    }

    #[test]
    fn what_no_scene_has_is_no_figure() {
        let pale = Figure::named("lost of pale %");
        assert_eq!(summary(pale, &[judged(1, 0.5)]), None);
        assert!(table(&[judged(1, 6.5)], 5).contains("1 of 1 scenes are over 3 times a limit"));
    }
}
