//! Random numbers that are the same everywhere: xoshiro256++ (Blackman and Vigna 2019), seeded by splitmix64.

use std::sync::OnceLock;

/// A stream of random numbers that depends on its seed alone.
#[derive(Clone, Debug)]
pub struct Random {
    state: [u64; 4],
}

/// One step of splitmix64 (Steele, Lea and Flood 2014).
fn splitmix(seed: &mut u64) -> u64 {
    *seed = seed.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let mut z = *seed;
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

impl Random {
    /// The stream of a seed.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        let mut s = seed;
        Self { state: [(); 4].map(|()| splitmix(&mut s)) }
    }

    /// A stream of its own for one piece of work, so that adding a dab in one place moves nothing elsewhere.
    #[must_use]
    pub fn fork(&self, tag: u64) -> Self {
        Self::new(self.state[0] ^ self.state[3].rotate_left(17) ^ tag.wrapping_mul(0xd134_2543_de82_ef95))
    }

    /// The next 64 random bits.
    pub fn bits(&mut self) -> u64 {
        let s = &mut self.state;
        let out = s[0].wrapping_add(s[3]).rotate_left(23).wrapping_add(s[0]);
        let t = s[1] << 17;
        s[2] ^= s[0];
        s[3] ^= s[1];
        s[1] ^= s[2];
        s[0] ^= s[3];
        s[2] ^= t;
        s[3] = s[3].rotate_left(45);
        out
    }

    /// Uniform in 0..1.
    pub fn unit(&mut self) -> f32 {
        (self.bits() >> 40) as f32 * (1.0 / 16_777_216.0)
    }

    /// Uniform between two values.
    pub fn between(&mut self, low: f32, high: f32) -> f32 {
        low + (high - low) * self.unit()
    }

    /// Uniform in 0..n.
    pub fn below(&mut self, n: usize) -> usize {
        (((self.bits() >> 32) * n as u64) >> 32) as usize
    }

    /// True with a probability.
    pub fn chance(&mut self, probability: f32) -> bool {
        self.unit() < probability
    }

    /// Normal, mean 0, standard deviation 1.
    pub fn normal(&mut self) -> f32 {
        quantiles()[(self.bits() >> 52) as usize]
    }

    /// Four normals at the price of one draw.
    pub fn normals(&mut self) -> [f32; 4] {
        let (bits, table) = (self.bits(), quantiles());
        [52, 40, 28, 16].map(|shift| table[((bits >> shift) & 4095) as usize])
    }
}

/// The normal distribution cut into 4096 equally likely steps: its quantiles at the middles of the steps, by Newton's
/// method on the error function. Fast, and without the long tails that a scanner does not have either.
fn quantiles() -> &'static [f32; 4096] {
    static TABLE: OnceLock<Box<[f32; 4096]>> = OnceLock::new();
    TABLE.get_or_init(|| {
        let mut table = Box::new([0.0_f32; 4096]);
        let mut x = 0.0_f64;
        for i in 2048..4096 {
            let p = (i as f64 + 0.5) / 4096.0;
            for _ in 0..20 {
                let error = 0.5 * (1.0 + libm::erf(x / std::f64::consts::SQRT_2)) - p;
                x -= error * (2.0 * std::f64::consts::PI).sqrt() * libm::exp(0.5 * x * x);
            }
            table[i] = x as f32;
            table[4095 - i] = -x as f32;
        }
        table
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The first outputs of splitmix64 for seed 1234567, as published with its reference implementation.
    #[test]
    fn splitmix_check_values() {
        let mut seed = 1_234_567;
        let expected = [6_457_827_717_110_365_317, 3_203_168_211_198_807_973, 9_817_491_932_198_370_423];
        assert_eq!(expected.map(|_| splitmix(&mut seed)), expected);
    }

    #[test]
    fn normals_have_mean_0_and_deviation_1() {
        let mut random = Random::new(5);
        let n = 200_000;
        let (mut sum, mut squares) = (0.0_f64, 0.0_f64);
        for _ in 0..n {
            let v = f64::from(random.normal());
            sum += v;
            squares += v * v;
        }
        assert!((sum / f64::from(n)).abs() < 0.01);
        assert!((squares / f64::from(n) - 1.0).abs() < 0.02);
    }

    #[test]
    fn a_stream_depends_on_its_seed_alone() {
        let draw = |seed| {
            let mut r = Random::new(seed);
            [r.bits(), r.bits(), r.bits()]
        };
        assert_eq!(draw(9), draw(9));
        assert_ne!(draw(9), draw(10));
    }
}
