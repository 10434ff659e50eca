//! Disjoint sets of small numbers.

pub(super) struct Sets(Vec<u32>);

impl Sets {
    pub fn new(n: usize) -> Self {
        Sets((0..n as u32).collect())
    }

    pub fn root_of(&self, mut k: u32) -> u32 {
        while self.0[k as usize] != k {
            k = self.0[k as usize];
        }
        k
    }

    pub fn root(&mut self, k: u32) -> u32 {
        let root = self.root_of(k);
        let mut k = k;
        while self.0[k as usize] != root {
            k = std::mem::replace(&mut self.0[k as usize], root);
        }
        root
    }

    pub fn join(&mut self, a: u32, b: u32) {
        let (a, b) = (self.root(a), self.root(b));
        self.0[a.max(b) as usize] = a.min(b);
    }
}
