//! Some of a short closed list. In: members of the list; out: each of them once, in the order of the list. One bit for
//! each, so that estimates are made of estimates without allocating or sorting.

use std::marker::PhantomData;

/// Members of a closed list of at most 64.
pub(super) trait Listed: Copy + 'static {
    /// Every member, in order.
    const ALL: &'static [Self];

    /// Its place in the list.
    fn place(self) -> usize;
}

/// Some members of a list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct EachOnce<T> {
    bits: u64,
    list: PhantomData<T>,
}

impl<T: Listed> EachOnce<T> {
    /// These.
    pub(super) fn new(members: &[T]) -> Self {
        const { assert!(T::ALL.len() <= 64, "a bit for each") };
        Self { bits: members.iter().fold(0, |bits, member| bits | 1 << member.place()), list: PhantomData }
    }

    /// These and those.
    pub(super) const fn and(self, others: Self) -> Self {
        Self { bits: self.bits | others.bits, list: PhantomData }
    }

    /// Each of them, in the order of the list.
    pub(super) fn iter(self) -> impl Iterator<Item = T> {
        T::ALL.iter().copied().filter(move |member| self.bits & 1 << member.place() != 0)
    }
}

/// A closed list: each member with its sentence.
macro_rules! listed {
    ($(#[$attribute:meta])+ $name:ident: $value:ty {
        $($(#[doc = $doc:literal])+ $member:ident = $says:expr,)+
    }) => {
        $(#[$attribute])+
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub enum $name { $($(#[doc = $doc])+ $member),+ }

        impl $name {
            const fn says(self) -> $value {
                match self { $(Self::$member => $says),+ }
            }
        }

        impl $crate::delivery::listed::Listed for $name {
            const ALL: &'static [Self] = &[$(Self::$member),+];

            fn place(self) -> usize {
                self as usize
            }
        }
    };
}
pub(super) use listed;

#[cfg(test)]
mod tests {
    use super::super::source::Source;
    use super::{EachOnce, Listed};

    #[test]
    fn each_is_told_once_in_the_order_of_the_list() {
        let all = Source::ALL;
        assert!(all.iter().enumerate().all(|(at, one)| one.place() == at));
        let some = EachOnce::new(&[all[5], all[1], all[5]]).and(EachOnce::new(&[all[33], all[1], all[0]]));
        assert_eq!(some.iter().collect::<Vec<_>>(), [all[0], all[1], all[5], all[33]]);
    }
}
