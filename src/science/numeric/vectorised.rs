//! Work compiled for the vector instructions of whatever the processor has, chosen at run time by `pulp`.
#![expect(clippy::inline_always, reason = "what is not inlined into the body of a dispatch is compiled for every processor alike")]

/// Runs `work` compiled for this processor. It is to be a closure under `#[inline(always)]`, and so is all that it calls.
///
/// `pulp` takes what may be called once. A closure that may be called more often reaches it by a function in between which the compiler
/// does not inline, and is then compiled for every processor alike; called as what it is, it is inlined.
#[inline(always)]
pub(crate) fn vectorised<R>(work: impl FnMut() -> R) -> R {
    struct Work<F>(F);

    impl<R, F: FnMut() -> R> pulp::WithSimd for Work<F> {
        type Output = R;

        #[inline(always)]
        fn with_simd<S: pulp::Simd>(mut self, _: S) -> R {
            (self.0)()
        }
    }

    pulp::Arch::new().dispatch(Work(work))
}
