//! Numbers that follow from a seed.

/// Numbers that follow from a seed.
pub(in crate::intake) struct Rng(pub(in crate::intake) u64);

impl Rng {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }
    pub(in crate::intake) fn below(&mut self, n: usize) -> usize {
        (self.next() % n.max(1) as u64) as usize
    }
    pub(in crate::intake) fn chance(&mut self, percent: usize) -> bool {
        self.below(100) < percent
    }
    pub(in crate::intake) fn word(&mut self, all: &[&'static str]) -> &'static str {
        all[self.below(all.len())]
    }
    pub(in crate::intake) fn pick<'a, T>(&mut self, all: &'a [T]) -> &'a T {
        &all[self.below(all.len())]
    }
}
