//! What many nights come to.

use super::cells::{ENOUGH, STATES, reason};
use nightvat::rig::night::Kind;
use nightvat::rig::night::driver::Spent;
use nightvat::rig::night::mishap::Class;
use nightvat::rig::night::oracle::Ending;
use std::collections::BTreeMap;

/// In fewer faulted nights chance decides how many outlive theirs.
const MANY: u64 = 1000;

/// Counts.
#[derive(Clone, Debug, Default)]
pub(crate) struct Tally {
    nights: u64,
    faulted: u64,
    outlived: u64,
    finished: u64,
    hours: f64,
    exchanges: u64,
    endings: BTreeMap<String, u64>,
    onsets: BTreeMap<(Class, &'static str), u64>,
    worst: BTreeMap<&'static str, f64>,
    tolerable: u64,
    tolerable_finished: u64,
    unwatched: u64,
    widest: f64,
    off_plan: f64,
    stood: u64,
    stood_off: (f64, u64),
    proved: Vec<f64>,
    off_after: Vec<f64>,
    broken: BTreeMap<&'static str, (u64, u64)>,
    bad: u64,
}

impl Tally {
    pub(crate) fn add(&mut self, seed: u64, spent: Option<&Spent>, good: bool) {
        self.nights += 1;
        self.bad += u64::from(!good);
        let Some(spent) = spent else { return };
        let finished = spent.account.ending == Ending::Finished;
        self.finished += u64::from(finished);
        if !spent.onsets.is_empty() {
            self.faulted += 1;
            self.outlived += u64::from(finished);
        }
        self.hours += spent.lasted.h();
        self.exchanges += spent.exchanges;
        *self.endings.entry(word(spent.account.ending)).or_default() += 1;
        for onset in &spent.onsets {
            *self.onsets.entry(*onset).or_default() += 1;
        }
        for (word, s) in &spent.worst {
            let worst = self.worst.entry(word).or_default();
            *worst = worst.max(*s);
        }
        self.tolerable += u64::from(spent.tolerable);
        self.tolerable_finished += u64::from(spent.tolerable && finished);
        self.unwatched += u64::from(spent.unwatched_c > 0.01);
        if finished {
            let account = &spent.account;
            let half = (account.high_c - account.low_c) / 2.0;
            self.widest = self.widest.max(half / account.truth_c);
            if let Some(of_plan) = account.of_plan.filter(|_| spent.tolerable) {
                self.off_plan = self.off_plan.max((of_plan - 1.0).abs());
            }
        }
        if stood_still(spent) {
            let account = &spent.account;
            self.stood += 1;
            self.off_by((account.best_c - account.truth_c).abs(), seed);
        }
        self.proved.extend(spent.proved_within);
        self.off_after.extend(spent.off_after);
        for broken in &spent.broken {
            self.broken.entry(broken.rule).or_insert((0, seed)).0 += 1;
        }
    }

    fn off_by(&mut self, coulomb: f64, seed: u64) {
        if coulomb > self.stood_off.0 {
            self.stood_off = (coulomb, seed);
        }
    }

    pub(crate) fn merge(&mut self, other: Self) {
        self.nights += other.nights;
        self.faulted += other.faulted;
        self.outlived += other.outlived;
        self.finished += other.finished;
        self.hours += other.hours;
        self.exchanges += other.exchanges;
        self.tolerable += other.tolerable;
        self.tolerable_finished += other.tolerable_finished;
        self.unwatched += other.unwatched;
        self.bad += other.bad;
        self.widest = self.widest.max(other.widest);
        self.off_plan = self.off_plan.max(other.off_plan);
        self.stood += other.stood;
        self.off_by(other.stood_off.0, other.stood_off.1);
        self.proved.extend(other.proved);
        self.off_after.extend(other.off_after);
        for (key, count) in other.endings {
            *self.endings.entry(key).or_default() += count;
        }
        for (key, count) in other.onsets {
            *self.onsets.entry(key).or_default() += count;
        }
        for (key, s) in other.worst {
            let worst = self.worst.entry(key).or_default();
            *worst = worst.max(s);
        }
        for (rule, (count, seed)) in other.broken {
            let entry = self.broken.entry(rule).or_insert((0, seed));
            *entry = (entry.0 + count, entry.1.min(seed));
        }
    }

    /// Prints it all; true if every rule held in every night.
    pub(crate) fn print(mut self, kind: Kind, hours: f64, wall: f64, threads: usize) -> bool {
        let speed = self.hours * 3600.0 / wall / threads as f64;
        println!(
            "\n{} {} nights of about {hours} h: {:.0} simulated h ({:.1} years), {:.2} million \
             exchanges, in {wall:.1} s on {threads} threads: {speed:.0} x real time a thread",
            self.nights,
            kind.word(),
            self.hours,
            self.hours / 8766.0,
            self.exchanges as f64 / 1e6
        );
        println!(
            "  something went wrong in {}, of which {} outlived it ({:.1} %)",
            self.faulted,
            self.outlived,
            100.0 * self.outlived as f64 / self.faulted.max(1) as f64
        );
        println!(
            "  nothing but tolerable trouble in {}, of which {} finished; charge within ±{:.3} % \
             of plan",
            self.tolerable,
            self.tolerable_finished,
            self.off_plan * 100.0
        );
        println!(
            "  widest charge bounds of a finished night ±{:.2} %",
            self.widest * 100.0
        );
        println!(
            "  a host that stood still, and nothing else, in {}: the charge most likely delivered \
             off by {:.2} C at most, seed {}",
            self.stood, self.stood_off.0, self.stood_off.1
        );
        println!(
            "  nights in which current flowed while nobody was to look: {}",
            self.unwatched
        );
        spread(
            "from the reply that ended a run to off on the wire",
            &mut self.off_after,
        );
        spread("from the decision to turn off to the end", &mut self.proved);
        for (ending, count) in &self.endings {
            println!("  {count:>7} {ending}");
        }
        if kind == Kind::Faulted {
            self.matrix();
            println!("  longest from a cause to off on the wire:");
            for (word, s) in &self.worst {
                println!("    {word:<20} {s:>8.2} s");
            }
        }
        for (rule, (count, seed)) in &self.broken {
            println!("  RULE BROKEN {rule}: {count} times, first seed {seed}");
        }
        println!("  nights in which a rule did not hold: {}", self.bad);
        let missed = self.missed(kind);
        for goal in &missed {
            println!("  GOAL MISSED: {goal}");
        }
        self.bad == 0 && missed.is_empty()
    }

    /// What so many nights should have come to and did not.
    fn missed(&self, kind: Kind) -> Vec<String> {
        let mut missed = Vec::new();
        let (finished, faulted, nights) = (self.finished, self.faulted, self.nights);
        if kind != Kind::Faulted && finished * 1000 < nights * 999 {
            missed.push(format!("{finished} of {nights} finished, not 99.9 %"));
        }
        if kind == Kind::Faulted && nights >= MANY && self.outlived * 2 < faulted {
            missed.push(format!(
                "{} of {faulted} outlived it, not half",
                self.outlived
            ));
        }
        if kind == Kind::Faulted && nights >= ENOUGH {
            let pairs = Class::ALL
                .into_iter()
                .flat_map(|class| STATES.map(|state| (class, state)));
            let met = |pair: &(Class, &'static str)| self.onsets.contains_key(pair);
            let unmet = pairs.filter(|pair| !met(pair) && reason(pair.1).is_none());
            missed.extend(unmet.map(|(class, state)| {
                format!(
                    "{} never began in {state}, and no reason is given",
                    class.word()
                )
            }));
        }
        missed
    }

    /// Kinds of mishap against the state they began in.
    fn matrix(&self) {
        print!("  {:<18}", "began in");
        for state in STATES {
            print!("{:>8}", &state[..state.len().min(7)]);
        }
        println!();
        for class in Class::ALL {
            print!("  {:<18}", class.word());
            for state in STATES {
                let count = self.onsets.get(&(class, state)).copied();
                match (count, reason(state)) {
                    (Some(count), _) => print!("{count:>8}"),
                    (None, Some(_)) => print!("{:>8}", "-"),
                    (None, None) => print!("{:>8}", 0),
                }
            }
            println!();
        }
        let mut told: Vec<&str> = Vec::new();
        for state in STATES {
            let Some(why) = reason(state).filter(|why| !told.contains(why)) else {
                continue;
            };
            told.push(why);
            println!("  - in {state} and the like: {why}");
        }
    }
}

/// The computer or the daemon stood still in this night, and nothing else went wrong.
fn stood_still(spent: &Spent) -> bool {
    let mut classes = spent.onsets.iter().map(|(class, _)| class);
    !spent.onsets.is_empty()
        && classes.all(|class| matches!(class, Class::HostStalls | Class::HostSleeps))
}

/// The middle, nearly all and the longest of some times, s.
fn spread(what: &str, times: &mut [f64]) {
    times.sort_by(f64::total_cmp);
    let Some(most) = times.last() else { return };
    let at = |share: f64| {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let place = (share * (times.len() - 1) as f64) as usize;
        times[place]
    };
    println!(
        "  {what}, {} times: median {:.3} s, 99 % {:.3} s, most {most:.3} s",
        times.len(),
        at(0.5),
        at(0.99)
    );
}

fn word(ending: Ending) -> String {
    match ending {
        Ending::Finished => "finished".to_owned(),
        Ending::Stopped => "stopped".to_owned(),
        Ending::Tripped(code) => format!("tripped: {code}"),
        Ending::Interrupted(code) => format!("interrupted: {code}"),
        Ending::Unconfirmed => "unconfirmed".to_owned(),
        Ending::LeftToTheKeeper => "left to the keeper".to_owned(),
        Ending::Cut => "cut".to_owned(),
        Ending::GivenUp => "given up".to_owned(),
    }
}
