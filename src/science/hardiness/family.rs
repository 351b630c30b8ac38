//! Families: kinds told apart only by small traits, or sold under many names. One more level of the partial pooling, between class and
//! cultivar.
//!
//! A member's h is the mean of its class, and a deviation of which a part is its family's and the rest its own:
//! `h_i = μ_i + f + e_i`, `f ~ N(0, v)`, `e_i ~ N(0, τ_i² − v)`, where `τ_i` is the spread that the fit gives a cultivar of that class, so that
//! each member by itself stands where it stood. What the reports of each say is taken from the fit as a normal, as Laplace's method has it, and
//! given those the level is worked out exactly: reports of one member move the others, and each keeps its own beside. The level is not in the
//! engine, whose cultivars share one spread; families are few, and theirs is narrower by design.

use crate::science::numeric::Gaussian;

/// Spread of the members of a family about it, K. DESIGN: half of the spread of cultivars within a class (`sigma_h`), since they are told apart
/// by small traits only.
pub const WITHIN_FAMILY_K: f64 = 0.65;
/// Largest share of a member's spread that is its own, where a fit finds cultivars of a class closer together than the members of a family.
const LARGEST_OWN_SHARE: f64 = 0.5;
/// Precision (1/K²) below which reports say nothing.
const NO_MESSAGE: f64 = 1e-9;

/// A member of a family.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Member {
    /// What is believed of its h before any report of it, °C and K; the spread is above 0.
    pub before: Gaussian,
    /// What its own reports say of its h, without that; `None` where they say nothing.
    pub said: Option<Gaussian>,
}

/// What reports said of a number, from what was believed before them and after; `None` where they said nothing.
pub fn said(before: Gaussian, after: Gaussian) -> Option<Gaussian> {
    let precision = 1.0 / after.variance() - 1.0 / before.variance();
    (precision > NO_MESSAGE).then(|| {
        let mean = (after.mean / after.variance() - before.mean / before.variance()) / precision;
        Gaussian::new(mean, (1.0 / precision).sqrt())
    })
}

/// What is believed of each member given the reports of all, °C and K; `None` where no other member's say anything, so that what the fit says
/// of it stands.
pub fn pooled(members: &[Member]) -> Vec<Option<Gaussian>> {
    let least = members.iter().map(|member| member.before.variance()).fold(f64::INFINITY, f64::min);
    let shared = least - WITHIN_FAMILY_K.powi(2).min(LARGEST_OWN_SHARE * least);
    // What each says of the part that is the family's: its mean weighted by its precision, and the precision.
    let of_family = |member: &Member| {
        member.said.map_or((0.0, 0.0), |said| {
            let precision = 1.0 / (member.before.variance() - shared + said.variance());
            ((said.mean - member.before.mean) * precision, precision)
        })
    };
    let messages: Vec<(f64, f64)> = members.iter().map(of_family).collect();
    let all = messages.iter().fold((0.0, 0.0), |sum, message| (sum.0 + message.0, sum.1 + message.1));
    let believed = |(member, message): (&Member, &(f64, f64))| {
        let others = (all.0 - message.0, all.1 - message.1);
        let is_told = members.iter().zip(&messages).any(|(other, m)| m.1 > 0.0 && !std::ptr::eq(other, member));
        is_told.then(|| {
            let precision = others.1 + 1.0 / shared;
            let before =
                Gaussian::new(member.before.mean + others.0 / precision, (1.0 / precision + member.before.variance() - shared).sqrt());
            match member.said {
                None => before,
                Some(said) => before.given(said),
            }
        })
    };
    members.iter().zip(&messages).map(believed).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{DMatrix, DVector};
    use proptest::prelude::*;

    fn member() -> impl Strategy<Value = Member> {
        let said = proptest::option::of((-20.0..-5.0_f64, 0.3..5.0_f64).prop_map(|(mean, sd)| Gaussian::new(mean, sd)));
        ((-18.0..-8.0_f64, 1.0..4.0_f64), said).prop_map(|((mean, sd), said)| Member { before: Gaussian::new(mean, sd), said })
    }

    proptest! {
        // The same by conditioning the joint normal of all members on what each was told, solved by the library nalgebra.
        #[test]
        fn the_level_is_the_joint_normal_given_every_message(members in proptest::collection::vec(member(), 2..6)) {
            let least = members.iter().map(|m| m.before.variance()).fold(f64::INFINITY, f64::min);
            let shared = least - WITHIN_FAMILY_K.powi(2).min(0.5 * least);
            let n = members.len();
            let prior = DMatrix::from_fn(n, n, |i, j| if i == j { members[i].before.variance() } else { shared });
            let told: Vec<usize> = (0..n).filter(|&i| members[i].said.is_some()).collect();
            let observed = DMatrix::from_fn(told.len(), told.len(), |a, b| {
                prior[(told[a], told[b])] + if a == b { members[told[a]].said.unwrap().variance() } else { 0.0 }
            });
            let gap = DVector::from_fn(told.len(), |a, _| members[told[a]].said.unwrap().mean - members[told[a]].before.mean);
            let inverse = observed.try_inverse().unwrap();
            for (i, got) in pooled(&members).into_iter().enumerate() {
                let Some(got) = got else {
                    prop_assert!(told.iter().all(|&j| j == i));
                    continue;
                };
                let with = DVector::from_fn(told.len(), |a, _| prior[(i, told[a])]);
                let mean = members[i].before.mean + (with.transpose() * &inverse * &gap)[0];
                let variance = members[i].before.variance() - (with.transpose() * &inverse * &with)[0];
                prop_assert!((got.mean - mean).abs() < 1e-8 && (got.variance() - variance).abs() < 1e-8, "{got:?} {mean} {variance}");
            }
        }

        #[test]
        fn what_was_said_put_back_gives_what_was_believed_after(m in member()) {
            let Some(heard) = m.said else { return Ok(()) };
            let alone = Member { said: Some(heard), ..m };
            let precision = 1.0 / alone.before.variance() + 1.0 / heard.variance();
            let after = Gaussian::new((alone.before.mean / alone.before.variance() + heard.mean / heard.variance()) / precision, precision.recip().sqrt());
            let back = said(alone.before, after).unwrap();
            prop_assert!((back.mean - heard.mean).abs() < 1e-6 && (back.sd - heard.sd).abs() < 1e-6);
        }
    }

    #[test]
    fn a_strain_that_nobody_reported_goes_most_of_the_way_with_its_family_and_one_with_reports_keeps_its_own() {
        let before = Gaussian::new(-13.0, 1.3);
        let heard = |mean, sd| Some(Gaussian::new(mean, sd));
        let silent = Member { before, said: None };
        let of = |members: &[Member], at: usize| pooled(members)[at];
        assert_eq!(of(&[silent, silent], 0), None, "nothing was said, nothing moves");
        let led = of(&[Member { before, said: heard(-10.0, 0.3) }, silent], 1).unwrap();
        // 0.75 of the deviation is shared: 3 K · 1.2675/(1.69 + 0.09) = 2.136 K, by hand.
        assert!((led.mean - -10.864).abs() < 1e-3 && led.sd < before.sd, "{led:?}");
        let own = of(&[Member { before, said: heard(-10.0, 0.3) }, Member { before, said: heard(-15.0, 0.3) }], 1).unwrap();
        assert!(own.mean < -14.0, "{own:?}");
    }
}
