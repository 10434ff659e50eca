//! Things sorted into numbered bins, all in one list: a list for each bin would cost more to make
//! than to use.

pub struct Bins<T> {
    /// Where each bin begins, and where the last ends.
    begins: Vec<u32>,
    all: Vec<T>,
}

impl<T: Copy + Default> Bins<T> {
    /// `each` hands every thing with its bin to what it is given; it is run twice, first to count.
    pub fn of(count: usize, each: impl Fn(&mut dyn FnMut(usize, T))) -> Bins<T> {
        let mut begins = vec![0u32; count + 1];
        each(&mut |bin, _| begins[bin] += 1);
        let mut whole = 0;
        for begin in &mut begins {
            whole += *begin;
            *begin = whole;
        }
        // Each bin is filled from its end.
        let mut all = vec![T::default(); whole as usize];
        each(&mut |bin, thing| {
            begins[bin] -= 1;
            all[begins[bin] as usize] = thing;
        });
        Bins { begins, all }
    }

    /// Empty for a bin that is not there.
    pub fn get(&self, bin: usize) -> &[T] {
        match self.begins.get(bin..bin + 2) {
            Some([from, to]) => &self.all[*from as usize..*to as usize],
            _ => &[],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_bin_holds_what_was_put_into_it() {
        let things = [(2, 'a'), (0, 'b'), (2, 'c')];
        let bins = Bins::of(4, |put| things.iter().for_each(|(bin, t)| put(*bin, *t)));
        let sorted = |bin: usize| {
            let mut all = bins.get(bin).to_vec();
            all.sort_unstable();
            all
        };
        let all: Vec<Vec<char>> = (0..5).map(sorted).collect();
        assert_eq!(all, [vec!['b'], vec![], vec!['a', 'c'], vec![], vec![]]);
    }
}
