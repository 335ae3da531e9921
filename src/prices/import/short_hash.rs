//! A short hash for keys that come from the catalogue: nobody gains by making these collide.

use std::hash::{BuildHasherDefault, Hasher};

/// A multiplier with its bits well spread: 2 to the 64 over the golden ratio, made odd.
const SPREAD: u64 = 0x9e37_79b9_7f4a_7c15;

/// The hash so far.
#[derive(Debug, Default, Clone, Copy)]
pub(super) struct Quick(u64);

/// For maps.
pub(super) type QuickState = BuildHasherDefault<Quick>;

impl Quick {
    fn word(&mut self, word: u64) {
        self.0 = (self.0.rotate_left(23) ^ word).wrapping_mul(SPREAD);
    }
}

impl Hasher for Quick {
    fn write(&mut self, bytes: &[u8]) {
        let mut words = bytes.chunks_exact(8);
        for chunk in words.by_ref() {
            self.word(chunk.try_into().map_or(0, u64::from_le_bytes));
        }
        let rest = words.remainder().iter().fold(1u64, |word, byte| (word << 8) | u64::from(*byte));
        self.word(rest);
    }

    fn write_u8(&mut self, n: u8) {
        self.word(n.into());
    }

    fn write_u32(&mut self, n: u32) {
        self.word(n.into());
    }

    fn write_u64(&mut self, n: u64) {
        self.word(n);
    }

    fn finish(&self) -> u64 {
        (self.0 ^ (self.0 >> 29)).wrapping_mul(SPREAD) ^ (self.0 >> 32)
    }
}
