//! Quantities. This room knows how large a thing is, in which unit people say it, and which
//! products physics allows. It must never know what a quantity is used for. Everyone may come in.
//!
//! Every quantity is a newtype over an `f64` in the SI unit; the constructors and getters carry the
//! unit in their name. Parsing and the units people may write are in [`written`].

mod moment;
mod written;

pub use moment::Moment;
pub use written::{Quantity, QuantityError, Unit};

use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

/// Defines one quantity: its name, its documentation, and a constructor and getter for each unit.
macro_rules! quantity {
    (
        $(#[$doc:meta])* $name:ident {
            $($(#[$unit_doc:meta])* $make:ident / $get:ident = $factor:expr;)+
        }
    ) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
        #[derive(serde::Serialize, serde::Deserialize)]
        #[serde(transparent)]
        pub struct $name(f64);

        impl $name {
            /// Nothing of it.
            pub const ZERO: Self = Self(0.0);

            $($(#[$unit_doc])*
            #[must_use]
            pub const fn $make(value: f64) -> Self { Self(value * $factor) }
            /// The same quantity as a number of the unit the name says.
            #[must_use]
            pub const fn $get(self) -> f64 { self.0 / $factor })+

            /// The magnitude, without its sign.
            #[must_use]
            pub const fn abs(self) -> Self { Self(self.0.abs()) }
            /// The smaller of two.
            #[must_use]
            pub const fn min(self, other: Self) -> Self { Self(self.0.min(other.0)) }
            /// The larger of two.
            #[must_use]
            pub const fn max(self, other: Self) -> Self { Self(self.0.max(other.0)) }
            /// True if it is neither infinite nor not-a-number.
            #[must_use]
            pub const fn is_finite(self) -> bool { self.0.is_finite() }
            /// The number of SI units; for the arithmetic of [`crate::units`] and for parsing.
            #[must_use]
            pub const fn si(self) -> f64 { self.0 }
            /// From a number of SI units.
            #[must_use]
            pub const fn from_si(value: f64) -> Self { Self(value) }
        }

        impl Add for $name {
            type Output = Self;
            fn add(self, o: Self) -> Self { Self(self.0 + o.0) }
        }
        impl Sub for $name {
            type Output = Self;
            fn sub(self, o: Self) -> Self { Self(self.0 - o.0) }
        }
        impl Neg for $name { type Output = Self; fn neg(self) -> Self { Self(-self.0) } }
        impl AddAssign for $name { fn add_assign(&mut self, o: Self) { self.0 += o.0; } }
        impl SubAssign for $name { fn sub_assign(&mut self, o: Self) { self.0 -= o.0; } }
        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, k: f64) -> Self { Self(self.0 * k) }
        }
        impl Mul<$name> for f64 {
            type Output = $name;
            fn mul(self, q: $name) -> $name { $name(self * q.0) }
        }
        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, k: f64) -> Self { Self(self.0 / k) }
        }
        impl Div for $name { type Output = f64; fn div(self, o: Self) -> f64 { self.0 / o.0 } }
        impl std::iter::Sum for $name {
            // From zero: the sum of no numbers at all is minus zero, which shows.
            fn sum<I: Iterator<Item = Self>>(iter: I) -> Self {
                Self(iter.fold(0.0, |sum, q| sum + q.0))
            }
        }
    };
}

/// Defines one product that physics allows, with both orders and both quotients.
macro_rules! product {
    ($a:ident * $b:ident = $c:ident) => {
        impl Mul<$b> for $a {
            type Output = $c;
            fn mul(self, o: $b) -> $c {
                $c::from_si(self.si() * o.si())
            }
        }
        impl Mul<$a> for $b {
            type Output = $c;
            fn mul(self, o: $a) -> $c {
                $c::from_si(self.si() * o.si())
            }
        }
        impl Div<$a> for $c {
            type Output = $b;
            fn div(self, o: $a) -> $b {
                $b::from_si(self.si() / o.si())
            }
        }
        impl Div<$b> for $c {
            type Output = $a;
            fn div(self, o: $b) -> $a {
                $a::from_si(self.si() / o.si())
            }
        }
    };
}

quantity! {
    /// Electric current; SI unit ampere.
    Current { /// From amperes.
        from_a / a = 1.0; /// From milliamperes.
        from_ma / ma = 1e-3; }
}
quantity! {
    /// Electric potential difference; SI unit volt.
    Voltage { /// From volts.
        from_v / v = 1.0; /// From millivolts.
        from_mv / mv = 1e-3; }
}
quantity! {
    /// Electric resistance; SI unit ohm.
    Resistance { /// From ohms.
        from_ohm / ohm = 1.0; }
}
quantity! {
    /// Electric charge; SI unit coulomb. One amp-hour is 3600 C exactly.
    Charge { /// From coulombs.
        from_c / c = 1.0; /// From amp-hours.
        from_ah / ah = 3600.0; }
}
quantity! {
    /// Length or thickness; SI unit metre.
    Length { /// From metres.
        from_m / m = 1.0; /// From centimetres.
        from_cm / cm = 1e-2; /// From millimetres.
        from_mm / mm = 1e-3; /// From micrometres.
        from_um / um = 1e-6; }
}
quantity! {
    /// Speed; SI unit metre per second.
    Speed { /// From metres per second.
        from_m_per_s / m_per_s = 1.0; /// From millimetres per hour.
        from_mm_per_h / mm_per_h = 1e-3 / 3600.0; }
}
quantity! {
    /// Surface area; SI unit square metre.
    Area { /// From square metres.
        from_m2 / m2 = 1.0; /// From square decimetres.
        from_dm2 / dm2 = 1e-2; /// From square centimetres.
        from_cm2 / cm2 = 1e-4; /// From square millimetres.
        from_mm2 / mm2 = 1e-6; }
}
quantity! {
    /// Volume; SI unit cubic metre.
    Volume { /// From cubic metres.
        from_m3 / m3 = 1.0; /// From litres.
        from_l / l = 1e-3; /// From cubic centimetres.
        from_cm3 / cm3 = 1e-6; /// From cubic millimetres.
        from_mm3 / mm3 = 1e-9; }
}
quantity! {
    /// Mass; SI unit kilogram.
    Mass { /// From kilograms.
        from_kg / kg = 1.0; /// From grams.
        from_g / g = 1e-3; /// From milligrams.
        from_mg / mg = 1e-6; }
}
quantity! {
    /// Mass density; SI unit kilogram per cubic metre.
    Density { /// From kilograms per cubic metre.
        from_kg_per_m3 / kg_per_m3 = 1.0; /// From grams per cubic centimetre.
        from_g_per_cm3 / g_per_cm3 = 1e3; }
}
quantity! {
    /// Current over area; SI unit ampere per square metre. 1 A/dm² is 100 A/m².
    CurrentDensity { /// From amperes per square metre.
        from_a_per_m2 / a_per_m2 = 1.0; /// From amperes per square decimetre.
        from_a_per_dm2 / a_per_dm2 = 100.0; }
}
quantity! {
    /// A span of time; SI unit second. Negative spans are differences, never deadlines.
    Span { /// From seconds.
        from_s / s = 1.0; /// From milliseconds.
        from_ms / ms = 1e-3; /// From minutes.
        from_min / min_value = 60.0; /// From hours.
        from_h / h = 3600.0; }
}
quantity! {
    /// Mass of a substance in a volume of bath; SI unit kilogram per cubic metre, the same as g/L.
    Concentration { /// From grams per litre.
        from_g_per_l / g_per_l = 1.0; /// From milligrams per litre.
        from_mg_per_l / mg_per_l = 1e-3; }
}
quantity! {
    /// Temperature on the Celsius scale.
    Temperature { /// From degrees Celsius.
        from_c / c = 1.0; }
}
quantity! {
    /// A share of something, 1 being all of it; written as a percentage.
    Fraction { /// From a share of one.
        from_share / share = 1.0; /// From a percentage.
        from_percent / percent = 1e-2; }
}
quantity! {
    /// Mass on a surface; SI unit kilogram per square metre. 1 mg/cm² is 0.01 kg/m².
    SurfaceMass { /// From milligrams per square centimetre.
        from_mg_per_cm2 / mg_per_cm2 = 1e-2; }
}
quantity! {
    /// Volume of an additive for a charge; SI unit cubic metre per coulomb.
    Dosage { /// From millilitres per amp-hour.
        from_ml_per_ah / ml_per_ah = 1e-6 / 3600.0; }
}
quantity! {
    /// Volume of an additive in a volume of bath; a share of one.
    Dilution { /// From millilitres per litre.
        from_ml_per_l / ml_per_l = 1e-3; }
}

product!(Current * Span = Charge);
product!(Speed * Span = Length);
product!(CurrentDensity * Area = Current);
product!(Current * Resistance = Voltage);
product!(Density * Volume = Mass);
product!(Area * Length = Volume);
product!(SurfaceMass * Area = Mass);
product!(Dosage * Charge = Volume);

impl Mul<Volume> for Concentration {
    type Output = Mass;
    fn mul(self, volume: Volume) -> Mass {
        Mass::from_si(self.si() * volume.si())
    }
}

impl Dilution {
    /// The additive in a volume of bath.
    #[must_use]
    pub fn in_volume(self, bath: Volume) -> Volume {
        bath * self.0
    }
}

impl Concentration {
    /// The concentration of a mass dissolved to a volume of bath.
    #[must_use]
    pub fn of(mass: Mass, volume: Volume) -> Self {
        Self::from_si(mass.si() / volume.si())
    }
}

/// A value known only within hard limits: `low` ≤ truth ≤ `high`, with `best` the estimate to use.
#[derive(Clone, Copy, Debug, Default, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Bounded<T> {
    /// The least it can be.
    pub low: T,
    /// The estimate to use.
    pub best: T,
    /// The most it can be.
    pub high: T,
}

impl<T: Copy + Add<Output = T>> Add for Bounded<T> {
    type Output = Self;
    fn add(self, o: Self) -> Self {
        Self {
            low: self.low + o.low,
            best: self.best + o.best,
            high: self.high + o.high,
        }
    }
}

impl<T: Copy> Bounded<T> {
    /// A value known exactly.
    pub const fn exact(value: T) -> Self {
        Self {
            low: value,
            best: value,
            high: value,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn products_carry_their_units() {
        // Definition of the amp-hour: 1 A for 3600 s.
        assert_eq!((Current::from_a(1.0) * Span::from_h(1.0)).ah(), 1.0);
        assert_eq!(
            (CurrentDensity::from_a_per_dm2(2.0) * Area::from_cm2(50.0)).a(),
            1.0
        );
        assert_eq!((Voltage::from_v(3.0) / Current::from_a(2.0)).ohm(), 1.5);
    }
}
