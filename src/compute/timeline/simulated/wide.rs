//! Work on many draws with the widest registers that the machine has. The sums are the same ones
//! in the same order, so the results are the same on every machine.

pub(super) use pulp::NullaryFnOnce as Wide;

/// Does the work, which has to be inlined whole.
pub(super) fn wide<T>(work: impl Wide<Output = T>) -> T {
    pulp::Arch::new().dispatch(work)
}
