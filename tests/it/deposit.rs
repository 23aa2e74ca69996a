//! Faraday's law, growth, shares and intervals against published figures and a Monte Carlo draw.

#![allow(clippy::unwrap_used)] // test code, its helpers included

use nightvat::deposit::{Account, Cover, Deposit, DepositError, FARADAY, Metal};
use nightvat::deposit::{split, thickness_interval};
use nightvat::shape::{self, Body};
use nightvat::units::{Area, Bounded, Charge, Current, CurrentDensity, Density, Fraction, Length};
use nightvat::units::{Mass, Span, Volume};
use proptest::prelude::*;
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, Normal};
use rand_xoshiro::Xoshiro256PlusPlus;

fn mm(value: f64) -> Length {
    Length::from_mm(value)
}

#[track_caller]
fn agree(ours: f64, theirs: f64, within: f64) {
    let off = (ours - theirs).abs() / theirs.abs();
    assert!(
        off <= within,
        "ours {ours}, theirs {theirs}, off by {off:e}, allowed {within:e}"
    );
}

fn sheet(area: Area) -> Body {
    shape::plain(area, None).unwrap()
}

fn with(metal: Metal, g_per_cm3: f64, efficiency: f64) -> Deposit {
    Deposit::new(metal, Density::from_g_per_cm3(g_per_cm3), efficiency, 0.0).unwrap()
}

const DM2: Area = Area::from_dm2(1.0);

#[test]
fn electrochemical_equivalents() {
    // F: scipy 1.17.1 `scipy.constants.value('Faraday constant')`; exact in the SI.
    agree(FARADAY, 96_485.332_123_310_01, 1e-15);
    // IUPAC weights as in PyPI mendeleev 1.3.0, periodictable 2.1.0, molmass 2026.1.8; g/Ah and µm
    // per Ah/dm² worked out from them with scipy's F.
    for (name, g_per_ah, um) in [
        ("copper", 1.185_494, 13.231_0),
        ("nickel", 1.094_966, 12.291_9),
        ("silver", 4.024_710, 38.367_1),
    ] {
        let metal = Metal::by_name(name).unwrap();
        let hour = Charge::from_ah(1.0);
        agree(metal.mass(hour, 1.0).g(), g_per_ah, 1e-6);
        let thick = Deposit::ideal(metal).thickness(&sheet(DM2), hour).unwrap();
        agree(thick.um(), um, 1e-5);
        agree(metal.charge(metal.mass(hour, 0.95), 0.95).ah(), 1.0, 1e-15);
    }
    assert_eq!(Metal::by_name("pewter"), None);
    // 0.329 304 mg/C.
    agree(
        Metal::COPPER.mass(Charge::from_c(1.0), 1.0).mg(),
        0.329_304,
        1e-5,
    );
}

#[test]
fn the_handbook_figures() {
    // Metal Finishing Guidebook, table of electrochemical equivalents (from memory; the same
    // figures in an on-line trade table that was read): g/Ah, and Ah/ft² for a thousandth of an
    // inch. The old 1.186 rests on an atomic weight of 63.57, so 0.1 % is allowed; the charges are
    // printed with two or three digits.
    let square_foot = sheet(Area::from_m2(0.3048 * 0.3048));
    for (metal, g_per_ah, ah_per_ft2_mil, within) in [
        (Metal::COPPER, 1.186, 17.8, 0.003),
        (Metal::NICKEL, 1.095, 19.0, 0.011),
        (Metal::SILVER, 4.024, 6.2, 0.008),
    ] {
        let hour = Charge::from_ah(1.0);
        agree(metal.mass(hour, 1.0).g(), g_per_ah, 1e-3);
        let mil = Deposit::ideal(metal).charge_for(&square_foot, mm(0.0254));
        agree(mil.ah(), ah_per_ft2_mil, within);
    }
    // A surface-finishing tutorial (no. 166, 2013), Table 1: µm per A·min/dm², three decimals;
    // copper reckoned at 8.92 g/cm³.
    let minute = Charge::from_c(60.0);
    for (deposit, um) in [
        (with(Metal::COPPER, 8.92, 1.0), 0.222),
        (with(Metal::NICKEL, 8.90, 1.0), 0.205),
        (with(Metal::SILVER, 10.50, 1.0), 0.639),
    ] {
        let ours = deposit.thickness(&sheet(DM2), minute).unwrap().um();
        assert!((ours - um).abs() < 0.000_8, "{ours} for {um}");
    }
    // The weighing formula t(µm) = 10⁴·m(g)/(A(cm²)·ρ): 1.1855 g on 100 cm² at 8.96 is 13.231 µm.
    let weighed = Mass::from_g(1.1855) / Density::from_g_per_cm3(8.96);
    agree(
        sheet(DM2).thickness_for(weighed).unwrap().um(),
        13.231,
        1e-4,
    );
}

#[test]
fn copper_depends_on_the_density_it_has() {
    // µm/h at 1 A/dm², from the same weights: 8.89 → 13.3351, 8.92 → 13.2903, 8.93 → 13.2754, 8.95
    // → 13.2457.
    for (g_per_cm3, um) in [
        (8.89, 13.335_1),
        (8.92, 13.290_3),
        (8.93, 13.275_4),
        (8.95, 13.245_7),
    ] {
        let charge = CurrentDensity::from_a_per_dm2(1.0) * DM2 * Span::from_h(1.0);
        let deposit = with(Metal::COPPER, g_per_cm3, 1.0);
        agree(
            deposit.thickness(&sheet(DM2), charge).unwrap().um(),
            um,
            1e-5,
        );
    }
}

#[test]
fn a_schedule_that_rises() {
    // Groover, Fundamentals of Modern Manufacturing (exercise seen on a homework page): I = 12.0 +
    // 0.2 t, t in minutes, for 20 min. The integral is 12·20 + 0.1·20² = 280 A·min = 4.6667 Ah; of
    // Cu(II) 5.5323 g.
    let minutes = 12.0 * 20.0 + 0.1 * 20.0 * 20.0;
    let charge = Current::from_a(minutes) * Span::from_min(1.0);
    agree(charge.ah(), 4.666_7, 1e-5);
    agree(Metal::COPPER.mass(charge, 1.0).g(), 5.532_3, 2e-6);
}

#[test]
fn nickel_examples() {
    let nickel = with(Metal::NICKEL, 8.908, 0.95);
    // On-line worked example after Lowenheim: 2 A, 30 min, 95 %, 1 dm²: 3600 C, 1.04 g, 11.7 µm.
    let charge = Current::from_a(2.0) * Span::from_min(30.0);
    agree(charge.c(), 3600.0, 1e-15);
    agree(nickel.mass(charge).g(), 1.04, 5e-3);
    agree(
        nickel.thickness(&sheet(DM2), charge).unwrap().um(),
        11.7,
        5e-3,
    );
    // Groover (from memory; its plating constant 3.42e-2 mm³/(A·s) and 95 % seen): 125 cm², 12 A,
    // 15 min: 350.9 mm³, 0.028 07 mm.
    let charge = Current::from_a(12.0) * Span::from_min(15.0);
    agree(nickel.volume(charge).mm3(), 350.9, 2e-3);
    let thick = nickel
        .thickness(&sheet(Area::from_cm2(125.0)), charge)
        .unwrap();
    agree(thick.mm(), 0.028_07, 2e-3);
}

#[test]
fn efficiency_multiplies_and_never_divides() {
    // A homework page prints 0.0744 mm for a plate of 160 × 130 × 3.2 mm, 25 A, 60 min, by dividing
    // by the efficiency of 95 %; with the same constants it is 0.067 29 mm.
    let plate = shape::plate(mm(160.0), mm(130.0), mm(3.2)).unwrap();
    let charge = Current::from_a(25.0) * Span::from_h(1.0);
    let thick = with(Metal::NICKEL, 8.908, 0.95)
        .thickness(&plate, charge)
        .unwrap();
    agree(thick.mm(), 0.067_29, 5e-3);
    assert!((thick.mm() - 0.0744).abs() > 0.005);
}

#[test]
fn time_for_a_thickness() {
    // Course notes: 25 µm of copper at 3 A/dm², 75 %, 8.9 g/cm³, 1.185 g/Ah: 0.83 h, that is 50
    // min.
    let charge = with(Metal::COPPER, 8.9, 0.75).charge_for(&sheet(DM2), Length::from_um(25.0));
    agree((charge / Current::from_a(3.0)).h(), 0.834_5, 1e-3);
    // After Groover: 36 in², 0.001 in, 15 A, Cu(II) at 100 %: 1070.1 s.
    let area = sheet(Area::from_m2(36.0 * 0.0254 * 0.0254));
    let charge = Deposit::ideal(Metal::COPPER).charge_for(&area, mm(0.0254));
    agree((charge / Current::from_a(15.0)).s(), 1_070.1, 1e-4);
}

#[test]
fn a_thin_wire_takes_more_than_a_sheet_of_its_area() {
    // 1 mm wire, 100 mm long, under 0.30 mm: π(0.8² − 0.5²)·100 = 122.522 113 mm³ of copper at 8.96
    // g/cm³ are 1.097 798 g, at 1.185 494 g/Ah 0.926 026 Ah. The straight line would ask for 0.712
    // 328 Ah.
    let wire = shape::wire(mm(1.0), mm(100.0)).unwrap();
    let copper = Deposit::ideal(Metal::COPPER);
    let charge = copper.charge_for(&wire, mm(0.30));
    agree(charge.ah(), 0.926_026, 2e-6);
    agree(copper.mass(charge).g(), 1.097_798, 1e-6);
    agree(copper.thickness(&wire, charge).unwrap().mm(), 0.30, 1e-12);
    let straight = copper.thickness(&sheet(wire.area), charge).unwrap();
    agree(straight.mm(), 0.39, 1e-12);
}

#[test]
fn impossible_deposits_are_refused() {
    let new = |density, efficiency, doubt| {
        Deposit::new(
            Metal::COPPER,
            Density::from_g_per_cm3(density),
            efficiency,
            doubt,
        )
    };
    assert!(new(8.93, 1.02, 0.01).is_ok());
    for efficiency in [0.0, -0.5, 1.2, f64::NAN] {
        assert!(matches!(
            new(8.93, efficiency, 0.0),
            Err(DepositError::Efficiency { .. })
        ));
    }
    for density in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert!(matches!(
            new(density, 1.0, 0.0),
            Err(DepositError::Density { .. })
        ));
    }
    let doubtful = new(8.93, 1.0, 1.0);
    assert!(matches!(
        doubtful,
        Err(DepositError::EfficiencyUncertainty { .. })
    ));
}

#[test]
fn a_rack_splits_by_covered_area() {
    let areas = [30.0, 15.0, 0.0, 5.0].map(Area::from_cm2);
    let parts: Vec<f64> = split(Current::from_a(2.0), &areas)
        .map(Current::a)
        .collect();
    for (ours, theirs) in parts.iter().zip([1.2, 0.6, 0.0, 0.2]) {
        assert!((ours - theirs).abs() < 1e-15);
    }
    let nothing: Vec<Charge> = split(Charge::from_ah(1.0), &[Area::ZERO; 2]).collect();
    assert_eq!(nothing, [Charge::ZERO; 2]);
}

#[test]
fn paint_is_covered_from_its_contact() {
    // 4 mm² of 1600 mm²: √s₀ = 0.05. Half-way: (0.05 + 0.95/2)² = 0.275 625.
    let over = Span::from_min(40.0);
    let cover = Cover::paint(Area::from_mm2(4.0), Area::from_mm2(1600.0), over).unwrap();
    agree(cover.share(Span::ZERO), 0.0025, 1e-12);
    agree(cover.share(Span::from_min(20.0)), 0.275_625, 1e-12);
    assert_eq!(cover.share(over), 1.0);
    assert_eq!(cover.share(Span::from_h(9.0)), 1.0);
    agree(cover.share(Span::from_s(-5.0)), 0.0025, 1e-12);
    assert_eq!(Cover::METAL.share(Span::ZERO), 1.0);
    let refused = |contact, area, over| {
        Cover::paint(
            Area::from_mm2(contact),
            Area::from_mm2(area),
            Span::from_min(over),
        )
        .unwrap_err()
    };
    assert!(matches!(
        refused(0.0, 10.0, 40.0),
        DepositError::Contact { .. }
    ));
    assert!(matches!(
        refused(11.0, 10.0, 40.0),
        DepositError::Contact { .. }
    ));
    assert!(matches!(
        refused(f64::NAN, 10.0, 40.0),
        DepositError::Contact { .. }
    ));
    assert!(matches!(
        refused(4.0, 10.0, 0.0),
        DepositError::CoverTime { .. }
    ));
}

#[test]
fn an_account_adds_up_to_the_same_thickness() {
    // The wire again: 0.926 026 Ah give 0.30 mm, however small the portions.
    let wire = shape::wire(mm(1.0), mm(100.0)).unwrap();
    let copper = Deposit::ideal(Metal::COPPER);
    let mut account = Account::open(wire, copper);
    let portion = Charge::from_ah(0.926_026 / 10_000.0);
    for _ in 0..10_000 {
        let (low, high) = (portion * 0.999, portion * 1.001);
        account.add(Bounded {
            low,
            best: portion,
            high,
        });
    }
    agree(account.thickness().mm(), 0.30, 2e-6);
    agree(account.mass().g(), 1.097_798, 2e-6);
    // π·1.6·100 mm².
    agree(account.area().mm2(), 502.654_825, 2e-6);
    agree(account.charge().low.ah(), 0.926_026 * 0.999, 1e-9);
    assert!(!account.closed());
    let resumed = Account::resume(wire, copper, account.charge());
    agree(resumed.thickness() / account.thickness(), 1.0, 1e-12);
    // What is left to 0.40 mm is π(0.9² − 0.8²)·100 mm³ of copper.
    agree(account.charge_to(mm(0.40)).ah(), 0.403_652, 2e-6);
    assert_eq!(account.charge_to(mm(0.10)), Charge::ZERO);
    account.doubt(Charge::from_ah(0.01), Charge::from_ah(0.02));
    agree(account.charge().low.ah(), 0.926_026 * 0.999 - 0.01, 1e-9);
    agree(account.charge().high.ah(), 0.926_026 * 1.001 + 0.02, 1e-9);
}

#[test]
fn an_account_of_a_closing_body_stops_where_it_closes() {
    // The inside of a tube, radius 1 mm, length 50 mm: 157.08 mm³ of room, 1.187 Ah at 8.96 g/cm³.
    let body = Body {
        area: Area::from_mm2(314.159_265_358_979),
        mean_curvature: mm(-157.079_632_679_490),
        gauss: 0.0,
        volume: Volume::ZERO,
        uncertainty: 0.0,
    };
    let mut account = Account::open(body, Deposit::ideal(Metal::COPPER));
    account.add(Bounded::exact(Charge::from_ah(1.18)));
    assert!(!account.closed() && account.thickness() < mm(1.0));
    account.add(Bounded::exact(Charge::from_ah(0.02)));
    assert!(account.closed());
    agree(account.thickness().mm(), 1.0, 1e-9);
}

fn unsure(body: Body, percent: f64) -> Body {
    body.with_uncertainty(Fraction::from_percent(percent))
        .unwrap()
}

fn charged(body: Body, deposit: Deposit, um: f64) -> Account {
    let charge = deposit.charge_for(&body, Length::from_um(um));
    Account::resume(body, deposit, Bounded::exact(charge))
}

#[test]
fn one_flat_piece_is_as_sure_as_its_area() {
    // 200 µm on an area known to 10 %: the truth lies between 200/1.1 and 200/0.9.
    let piece = charged(
        unsure(sheet(DM2), 10.0),
        Deposit::ideal(Metal::COPPER),
        200.0,
    );
    // The share of a piece alone is all of it: no doubt.
    let interval = thickness_interval(&piece, [], 0.3);
    agree(interval.low.um(), 181.818_182, 1e-8);
    agree(interval.high.um(), 222.222_222, 1e-8);
    assert_eq!(interval.best, piece.thickness());
}

#[test]
fn each_cause_counts_as_the_guide_says() {
    let copper = Deposit {
        efficiency_uncertainty: 0.02,
        ..Deposit::ideal(Metal::COPPER)
    };
    let sure = unsure(sheet(DM2), 0.0);
    // Efficiency alone: 2 % of 200 µm.
    let piece = charged(sure, copper, 200.0);
    agree(thickness_interval(&piece, [], 0.0).high.um(), 204.0, 1e-9);
    // Hard bounds of ±3 % alone: 1.96 · 3 %/√3 = 3.394 82 %.
    let ideal = Deposit::ideal(Metal::COPPER);
    let best = ideal.charge_for(&sure, Length::from_um(200.0));
    let bounds = Bounded {
        low: best * 0.97,
        best,
        high: best * 1.03,
    };
    let metered = Account::resume(sure, ideal, bounds);
    agree(
        thickness_interval(&metered, [], 0.0).low.um(),
        193.210_360_3,
        1e-8,
    );
    // Both: √(2² + 3.394 82²) = 3.940 15 %.
    let both = Account::resume(sure, copper, bounds);
    agree(
        thickness_interval(&both, [], 0.0).high.um(),
        207.880_306,
        1e-6,
    );
    // Two equal pieces, each 12 % unsure of its share: φ − ½(φ + φ') leaves 12 %/√2.
    let twin = charged(sure, ideal, 200.0);
    agree(
        thickness_interval(&twin, [&twin], 0.12).high.um(),
        216.970_562_7,
        1e-8,
    );
    // A piece whose own area is unsure beside three that are not: a quarter of it is left.
    let doubtful = charged(unsure(sheet(DM2), 20.0), ideal, 200.0);
    let rack = [&twin, &twin, &twin];
    agree(
        thickness_interval(&doubtful, rack, 0.0).high.um(),
        200.0 / 0.95,
        1e-9,
    );
    agree(
        thickness_interval(&twin, [&doubtful, &twin, &twin], 0.0)
            .low
            .um(),
        200.0 / 1.05,
        1e-9,
    );
}

#[test]
fn nothing_deposited_is_still_bounded() {
    let bounds = Bounded {
        low: Charge::ZERO,
        best: Charge::ZERO,
        high: Charge::from_ah(0.1),
    };
    let piece = Account::resume(sheet(DM2), Deposit::ideal(Metal::COPPER), bounds);
    let interval = thickness_interval(&piece, [], 0.1);
    assert_eq!(interval.low, Length::ZERO);
    // 1.96/√3 of 0.1 Ah/dm², 13.2310 µm per Ah/dm².
    agree(interval.high.um(), 1.497_21, 1e-5);
}

/// A world drawn at random: true bodies, true efficiency, true charge, true shares; and a rack
/// grown in it.
struct World {
    bodies: Vec<Body>,
    places: Vec<f64>,
    volume: f64,
}

impl World {
    /// True thicknesses, stepping the deposited volume forward; each piece grows as its place lets
    /// it.
    fn grown(&self) -> Vec<f64> {
        let mut d = vec![0.0; self.bodies.len()];
        let steps = 150;
        for _ in 0..steps {
            let taken: f64 = self
                .bodies
                .iter()
                .zip(&self.places)
                .zip(&d)
                .map(|((body, place), d)| place * body.area_at(Length::from_m(*d)).m2())
                .sum();
            for (d, place) in d.iter_mut().zip(&self.places) {
                *d += place * self.volume / f64::from(steps) / taken;
            }
        }
        d
    }
}

#[test]
fn the_interval_holds_the_truth_nineteen_times_in_twenty() {
    // Monte Carlo in the manner of JCGM 101: draw the causes, grow the rack by its own differential
    // equation, and count. Areas err together in size; the rest is drawn apart.
    let mut dice = Xoshiro256PlusPlus::seed_from_u64(20_261_125);
    let normal = Normal::new(0.0, 1.0).unwrap();
    let copper = Deposit {
        efficiency_uncertainty: 0.03,
        ..Deposit::ideal(Metal::COPPER)
    };
    let bodies = [
        unsure(shape::sphere(mm(22.0)).unwrap(), 10.0),
        unsure(shape::wire(mm(1.2), mm(180.0)).unwrap(), 8.0),
        unsure(shape::plate(mm(40.0), mm(30.0), mm(1.0)).unwrap(), 6.0),
        unsure(shape::wire(mm(1.0), mm(150.0)).unwrap(), 3.0),
    ];
    let even = World {
        bodies: bodies.to_vec(),
        places: vec![1.0; 4],
        volume: copper.volume(Charge::from_ah(14.0)).m3(),
    };
    let share_doubt = 0.12;
    let accounts: Vec<Account> = even
        .grown()
        .iter()
        .zip(bodies)
        .map(|(d, body)| {
            let best = copper.charge_for(&body, Length::from_m(*d));
            Account::resume(
                body,
                copper,
                Bounded {
                    low: best * 0.98,
                    best,
                    high: best * 1.02,
                },
            )
        })
        .collect();
    let draws = 2_000;
    let mut held = [0_u32; 4];
    for _ in 0..draws {
        let mut draw = || normal.sample(&mut dice) / 1.96;
        let together = draw();
        let true_bodies = bodies.map(|body| {
            body.resized(body.area * (1.0 + body.uncertainty * together))
                .unwrap()
        });
        let efficiency = 1.0 + 0.03 * draw();
        let places = (0..4).map(|_| 1.0 + share_doubt * draw()).collect();
        let metered = 1.0 + dice.random_range(-0.02..0.02);
        let volume = even.volume * efficiency * metered;
        let world = World {
            bodies: true_bodies.to_vec(),
            places,
            volume,
        };
        for (k, truth) in world.grown().into_iter().enumerate() {
            let others = accounts
                .iter()
                .enumerate()
                .filter(|(j, _)| *j != k)
                .map(|(_, a)| a);
            let interval = thickness_interval(&accounts[k], others, share_doubt);
            let within = interval.low.m() <= truth && truth <= interval.high.m();
            held[k] += u32::from(within);
        }
    }
    for held in held {
        let share = f64::from(held) / f64::from(draws);
        // 2000 draws scatter by ±1 %.
        assert!(
            (0.935..=0.975).contains(&share),
            "{share} of the truths inside"
        );
    }
}

proptest! {
    /// Thickness → charge → thickness and mass → charge → mass, on every kind of convex body.
    #[test]
    fn charge_and_thickness_come_back(
        diameter in 0.2..200.0_f64,
        length in 0.5..500.0_f64,
        um in 0.01..5_000.0_f64,
        efficiency in 0.1..1.1_f64,
        which in 0..4,
    ) {
        let (d, l) = (mm(diameter), mm(length));
        let body = match which {
            0 => shape::sphere(d),
            1 => shape::wire(d, l),
            2 => shape::rod(d, l),
            _ => shape::ring(d + l, l.min(d)),
        }.unwrap();
        let deposit = with(Metal::COPPER, 8.93, efficiency);
        let thick = Length::from_um(um);
        let charge = deposit.charge_for(&body, thick);
        let back = deposit.thickness(&body, charge).unwrap();
        prop_assert!((back / thick - 1.0).abs() < 1e-9);
        let mass = deposit.mass(charge);
        prop_assert!((deposit.charge_for_mass(mass) / charge - 1.0).abs() < 1e-12);
    }

    /// An interval holds its best value and widens with every cause.
    #[test]
    fn an_interval_holds_its_best(
        um in 1.0..1_000.0_f64,
        area in 0.0..90.0_f64,
        share in 0.0..0.5_f64,
        bound in 0.0..0.2_f64,
    ) {
        let copper = Deposit::ideal(Metal::COPPER);
        let body = unsure(shape::wire(mm(1.0), mm(100.0)).unwrap(), area);
        let best = copper.charge_for(&body, Length::from_um(um));
        let wide = Bounded { low: best * (1.0 - bound), best, high: best * (1.0 + bound) };
        let piece = Account::resume(body, copper, wide);
        let bare = thickness_interval(&piece, [], share);
        let rack = thickness_interval(&piece, [&piece], share);
        for interval in [bare, rack] {
            prop_assert!(interval.low <= interval.best && interval.best <= interval.high);
            prop_assert!(interval.low >= Length::ZERO && interval.high.is_finite());
        }
        prop_assert!(rack.high >= bare.high);
    }
}
