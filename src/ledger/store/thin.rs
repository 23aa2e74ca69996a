//! Which readings of a run that is over are worth their place.
//!
//! Kept are: the first and the last; every reading within ten minutes of an event or a change of
//! state; and of the rest, cut into runs of equal length, those with the lowest and the highest
//! current and voltage. No kept reading is altered. Its running charge is the sum over all that
//! were there, so the charge, and the mean current between any two kept readings, stay what they
//! were.

use crate::ledger::entry::RunId;
use rusqlite::{Result, Transaction, params};

/// How far around an event all readings stay, s.
const AROUND_S: f64 = 600.0;
/// So many stretches the quiet hours are cut into; each keeps at most four readings.
const STRETCHES: usize = 500;

/// What the choice looks at.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Point {
    number: i64,
    t_s: f64,
    current_a: Option<f64>,
    voltage_v: Option<f64>,
}

/// Drops the readings of a run that are not worth keeping, and says how many are left.
pub(super) fn thin(to: &Transaction<'_>, run: RunId) -> Result<usize> {
    let points = points(to, run)?;
    let keep = kept(&points, &marks(to, run)?);
    let mut delete = to.prepare_cached("DELETE FROM readings WHERE run = ?1 AND number = ?2")?;
    for (point, _) in points.iter().zip(&keep).filter(|(_, keep)| !**keep) {
        delete.execute(params![run, point.number])?;
    }
    to.execute("UPDATE runs SET thinned = 1 WHERE run = ?1", [run])?;
    Ok(keep.into_iter().filter(|keep| *keep).count())
}

fn points(to: &Transaction<'_>, run: RunId) -> Result<Vec<Point>> {
    let mut select = to.prepare_cached(
        "SELECT number, t_s, current_a, voltage_v FROM readings WHERE run = ?1 ORDER BY number",
    )?;
    let rows = select.query_map([run], |row| {
        Ok(Point {
            number: row.get(0)?,
            t_s: row.get(1)?,
            current_a: row.get(2)?,
            voltage_v: row.get(3)?,
        })
    })?;
    rows.collect()
}

/// The moments that all readings stay around.
fn marks(to: &Transaction<'_>, run: RunId) -> Result<Vec<f64>> {
    let mut select = to.prepare_cached(
        "SELECT t_s FROM events WHERE run = ?1 UNION ALL SELECT t_s FROM states WHERE run = ?1
         UNION ALL SELECT reached_s FROM runs WHERE run = ?1 AND reached_s IS NOT NULL
         UNION ALL SELECT ended_s FROM runs WHERE run = ?1 AND ended_s IS NOT NULL
         ORDER BY 1",
    )?;
    let rows = select.query_map([run], |row| row.get(0))?;
    rows.collect()
}

/// For each point whether it stays.
fn kept(points: &[Point], marks: &[f64]) -> Vec<bool> {
    let mut keep: Vec<bool> = points
        .iter()
        .map(|point| is_near(point.t_s, marks))
        .collect();
    if let (Some(first), Some(last)) = (keep.first().map(|_| 0), keep.len().checked_sub(1)) {
        keep[first] = true;
        keep[last] = true;
    }
    let quiet: Vec<usize> = (0..points.len()).filter(|at| !keep[*at]).collect();
    if quiet.len() <= 4 * STRETCHES {
        return vec![true; points.len()];
    }
    for stretch in quiet.chunks(quiet.len().div_ceil(STRETCHES)) {
        for of in [|p: &Point| p.current_a, |p: &Point| p.voltage_v] {
            let order = |a: &usize, b: &usize| {
                let figure = |at: &usize| of(&points[*at]).unwrap_or(f64::NAN);
                figure(a).total_cmp(&figure(b))
            };
            let judged = || {
                stretch
                    .iter()
                    .copied()
                    .filter(|at| of(&points[*at]).is_some())
            };
            for at in [judged().min_by(order), judged().max_by(order)]
                .into_iter()
                .flatten()
            {
                keep[at] = true;
            }
        }
    }
    keep
}

/// True within ten minutes of a mark; the marks are in order.
fn is_near(t_s: f64, marks: &[f64]) -> bool {
    let next = marks.partition_point(|mark| *mark < t_s - AROUND_S);
    marks.get(next).is_some_and(|mark| *mark <= t_s + AROUND_S)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn night(seconds: i32) -> Vec<Point> {
        (0..seconds)
            .map(|s| Point {
                number: i64::from(s),
                t_s: f64::from(s),
                current_a: Some(1.0 + f64::from(s % 97) * 1e-3),
                voltage_v: Some(1.2),
            })
            .collect()
    }

    #[test]
    fn a_quiet_night_keeps_no_more_than_two_thousand() {
        let keep = kept(&night(43_200), &[]);
        let left = keep.iter().filter(|keep| **keep).count();
        assert!((500..=2_002).contains(&left), "{left}");
        assert!(keep[0] && keep[43_199]);
    }

    #[test]
    fn ten_minutes_around_a_mark_stay_whole_and_a_spike_in_the_quiet_stays() {
        let mut points = night(43_200);
        points[30_000].current_a = Some(2.5);
        points[31_000].voltage_v = Some(0.3);
        points[31_001].voltage_v = None;
        let keep = kept(&points, &[20_000.0]);
        assert!(keep[19_400..=20_600].iter().all(|keep| *keep));
        assert!(!keep[18_000..19_400].iter().all(|keep| *keep));
        assert!(keep[30_000] && keep[31_000]);
    }

    #[test]
    fn a_short_run_and_an_empty_one_are_left_alone() {
        assert_eq!(kept(&night(300), &[]), vec![true; 300]);
        assert_eq!(kept(&[], &[1.0]), Vec::<bool>::new());
    }
}
