//! Nodes joined into groups, each node at a known potential against its group.
//!
//! Ideal links and ideal sources need no equation: they only say how far apart two potentials are.

/// A union-find whose members carry a potential against their representative.
#[derive(Clone, Debug)]
pub(in crate::analysis) struct Groups {
    parent: Vec<usize>,
    /// Potential of the member less that of its parent, in volts.
    offset: Vec<f64>,
    size: Vec<usize>,
}

impl Groups {
    /// Every member alone.
    pub(in crate::analysis) fn new(members: usize) -> Self {
        Self {
            parent: (0..members).collect(),
            offset: vec![0.0; members],
            size: vec![1; members],
        }
    }

    /// The representative of a member, and the member's potential against it.
    pub(in crate::analysis) fn find(&mut self, member: usize) -> (usize, f64) {
        let mut root = member;
        let mut total = 0.0;
        while self.parent[root] != root {
            total += self.offset[root];
            root = self.parent[root];
        }
        let (mut at, mut left) = (member, total);
        while self.parent[at] != root && at != root {
            let (next, step) = (self.parent[at], self.offset[at]);
            self.parent[at] = root;
            self.offset[at] = left;
            left -= step;
            at = next;
        }
        (root, total)
    }

    /// Sets the potential of `a` less that of `b`; tells by how much that contradicts what is set already.
    ///
    /// A contradiction changes nothing.
    pub(in crate::analysis) fn join(&mut self, a: usize, b: usize, difference: f64) -> f64 {
        let (root_a, above_a) = self.find(a);
        let (root_b, above_b) = self.find(b);
        if root_a == root_b {
            return above_a - above_b - difference;
        }
        // V(root a) - V(root b), from V(a) - V(b) = difference.
        let between = difference - above_a + above_b;
        if self.size[root_a] <= self.size[root_b] {
            self.parent[root_a] = root_b;
            self.offset[root_a] = between;
            self.size[root_b] += self.size[root_a];
        } else {
            self.parent[root_b] = root_a;
            self.offset[root_b] = -between;
            self.size[root_a] += self.size[root_b];
        }
        0.0
    }

    /// Numbers the groups in the order of their first members: one number a member, and how many there are.
    pub(in crate::analysis) fn number(&mut self) -> (Vec<usize>, usize) {
        let members = self.parent.len();
        let mut number_of_root = vec![usize::MAX; members];
        let mut numbers = Vec::with_capacity(members);
        let mut count = 0;
        for member in 0..members {
            let (root, _) = self.find(member);
            if number_of_root[root] == usize::MAX {
                number_of_root[root] = count;
                count += 1;
            }
            numbers.push(number_of_root[root]);
        }
        (numbers, count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn potentials_add_up_along_any_way() {
        let mut groups = Groups::new(5);
        assert!(groups.join(0, 1, 12.0).abs() < 1e-12);
        assert!(groups.join(2, 3, -5.0).abs() < 1e-12);
        assert!(groups.join(1, 3, 1.0).abs() < 1e-12);
        let against = |groups: &mut Groups, a, b| groups.find(a).1 - groups.find(b).1;
        // V0 = V1 + 12, V1 = V3 + 1, V2 = V3 - 5.
        assert!((against(&mut groups, 0, 2) - 18.0).abs() < 1e-12);
        assert!((groups.join(0, 2, 18.0)).abs() < 1e-12);
        assert!((groups.join(0, 2, 10.0) - 8.0).abs() < 1e-12);
        assert_eq!(groups.number(), (vec![0, 0, 0, 0, 1], 2));
    }
}
