//! Where generated inputs come from: good ones, hurt a little.

use rand::{Rng, RngExt, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;

/// What numbers, files and lines have been broken with before.
const PIECES: [&[u8]; 36] = [
    b"0",
    b"-0.0",
    b"1e999",
    b"-1e-999",
    b"nan",
    b"inf",
    b"-inf",
    b"99999999999999999999999999",
    b"+",
    b"-",
    b".",
    b"e",
    b"\0",
    b"\n",
    b"\r\n",
    b"\"",
    b"'",
    b"\\u0000",
    b"\\",
    b"[",
    b"]",
    b"{",
    b"}",
    b"[[",
    b"]]",
    b"=",
    b",",
    b"#",
    b"\xff\xfe",
    "µΩ".as_bytes(),
    b"\xf0\x9f\x92",
    b" mm",
    b" A/dm2",
    b"#9999999999",
    b"\"\"\"",
    b"true",
];
/// Inputs stay about this long.
const LONGEST: usize = 8192;

/// A source of chance with a seed.
pub(crate) struct Die(Xoshiro256PlusPlus);

impl Die {
    pub(crate) fn new(seed: u64) -> Self {
        Self(Xoshiro256PlusPlus::seed_from_u64(seed))
    }

    /// Below this number.
    pub(crate) fn below(&mut self, most: usize) -> usize {
        self.0.random_range(0..most.max(1))
    }

    pub(crate) fn one_in(&mut self, so_many: usize) -> bool {
        self.below(so_many) == 0
    }

    pub(crate) fn pick<'a, T: ?Sized>(&mut self, all: &[&'a T]) -> &'a T {
        all[self.below(all.len())]
    }

    fn byte(&mut self) -> u8 {
        self.0.next_u32().to_le_bytes()[0]
    }

    /// One of the good ones, as it is or hurt in up to eight places.
    pub(crate) fn hurt(&mut self, good: &[&[u8]]) -> Vec<u8> {
        let mut input = self.pick(good).to_vec();
        let times = match self.below(16) {
            0 => 0,
            1..=8 => 1,
            few => few - 7,
        };
        for _ in 0..times {
            self.hurt_once(&mut input, good);
        }
        input.truncate(LONGEST);
        input
    }

    fn hurt_once(&mut self, input: &mut Vec<u8>, good: &[&[u8]]) {
        let at = self.below(input.len() + 1);
        let end = (at + 1 + self.below(24)).min(input.len());
        match self.below(9) {
            0 => input.truncate(at),
            1 => drop(input.drain(at..end)),
            2 => {
                let again = input[at..end].to_vec();
                let times = if self.one_in(50) { 100 } else { 1 };
                input.splice(at..at, again.repeat(times));
            }
            3 => input.insert(at, self.byte()),
            4 if at < input.len() => input[at] = self.byte(),
            5 if at < input.len() => input[at] ^= 1 << self.below(8),
            6 => {
                let other = self.pick(good);
                let from = self.below(other.len() + 1);
                let to = (from + self.below(200)).min(other.len());
                input.splice(at..end, other[from..to].iter().copied());
            }
            7 => {
                let word = end.min(at + self.below(6));
                input.splice(at..word, self.pick(&PIECES).iter().copied());
            }
            _ => {
                let piece = self.pick(&PIECES);
                input.splice(at..at, piece.iter().copied());
            }
        }
    }
}
