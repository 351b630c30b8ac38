//! A shelter as an experiment, and two that share a wall: gains held against another program's least squares, rules of common practice, and laws.

use proptest::prelude::*;
use winterfig_core::science::shelter::assess::{Assessment, Change, Shelter};
use winterfig_core::science::shelter::balance::Heater;
use winterfig_core::science::shelter::beside::{Beside, assess_together, check_wall};
use winterfig_core::science::shelter::envelope::{Envelope, Layer, Part};
use winterfig_core::science::shelter::gains::{Noted, Scatter, contrast};
use winterfig_core::science::shelter::night::{Outside, Room};
use winterfig_core::science::shelter::readings::{Correction, Observed, Reading};
use winterfig_core::units::Transmittance;
use winterfig_core::units::customary::SQUARE_METRES_PER_SQUARE_FOOT;
use winterfig_core::units::heat::TRANSMITTANCE_PER_IMPERIAL;

use super::{K_PER_F, close};

/// Nineteen simulated nights (state, outside °C, inside °C): 1500 W in a house of 180, then 105, then 84 W/K, 6 % from night to night, thermometers
/// 0.5 K. Simulated by numpy 2.4.6, seed 15.
const NIGHTS: [(usize, f64, f64); 19] = [
    (0, -10.3, -1.3),
    (0, -7.6, 0.9),
    (0, -10.3, -2.8),
    (0, 0.3, 8.0),
    (0, -5.4, 3.0),
    (0, -1.8, 7.1),
    (1, -4.1, 9.6),
    (1, -10.7, 3.8),
    (1, -1.7, 13.2),
    (1, -8.4, 5.1),
    (1, -3.8, 11.1),
    (1, -4.7, 8.6),
    (1, -1.4, 12.5),
    (1, -8.0, 6.9),
    (2, -6.6, 10.7),
    (2, -0.5, 17.5),
    (2, -3.3, 16.2),
    (2, -4.6, 15.0),
    (2, -2.8, 14.6),
];

/// The same nights by ordinary least squares on one column per state in statsmodels 0.15.0 (numpy 2.4.6): contrasts and their 90 % intervals,
/// 16 degrees of freedom; agreement to 1e-6.
#[test]
fn the_gain_between_two_states_and_its_interval_are_those_of_least_squares() {
    let differences: Vec<Noted> = NIGHTS.iter().map(|&(state, out, inside)| Noted { state, value: inside - out }).collect();
    let logs: Vec<Noted> = NIGHTS.iter().map(|&(state, out, inside)| Noted { state, value: (1_500.0 / (inside - out)).ln() }).collect();
    for (noted, scatter, from, to, wanted) in [
        (&differences, Scatter::DIFFERENCES, 0, 1, [5.866_666_666_667, 5.117_335_089_972, 6.615_998_243_362]),
        (&differences, Scatter::DIFFERENCES, 1, 2, [4.16, 3.369_007_591_486, 4.950_992_408_514]),
        (&differences, Scatter::DIFFERENCES, 0, 2, [10.026_666_666_667, 9.186_498_252_927, 10.866_835_080_406]),
        (&logs, Scatter::LOGS, 0, 1, [-0.534_296_823_103, -0.591_400_033_604, -0.477_193_612_604]),
        (&logs, Scatter::LOGS, 1, 2, [-0.256_452_164_245, -0.316_730_160_545, -0.196_174_167_945]),
        (&logs, Scatter::LOGS, 0, 2, [-0.790_748_987_348, -0.854_774_467_226, -0.726_723_507_471]),
    ] {
        let got = contrast(noted, from, to, scatter).unwrap();
        for (g, w) in [got.difference, got.interval.low, got.interval.high].into_iter().zip(wanted) {
            close(g, w, 1e-6, &format!("{from} to {to}"));
        }
        assert_eq!(got.freedom, 16);
    }
}

fn house(parts: &[(f64, f64)], heater_w: f64) -> Shelter {
    Shelter {
        envelope: Envelope {
            parts: parts.iter().map(|&(area, u)| Part::new("skin", area, Transmittance::new(u).unwrap()).unwrap()).collect(),
            ..Envelope::default()
        },
        heater: Heater { limit_w: heater_w, thermostat_c: None },
        attached: true,
        ..Shelter::default()
    }
}

fn night(shelter: &Shelter, beside: Option<&Beside>, outside_c: f64) -> (Assessment, Option<Assessment>) {
    let outside = Outside::Steady { outside_c, hours: 12.0 };
    let together = assess_together(shelter, beside, &outside, [None, None], &Correction::none());
    (together.mine, together.theirs)
}

/// Common practice, no published source: a small house stands about 15 °F above outside with a small heater, about 30 °F with a second cover and
/// boards on the lower walls, each alone neither; a hoop house beside it gains about what the shared wall loses. 8 × 8 ft of one film, 1.5 kW;
/// ranges 13 to 18 and 23 to 35 °F (`evidence/shelter.md` §2).
#[test]
fn a_small_house_doubles_its_warmth_by_cover_and_boards_and_its_hoop_house_gains_what_the_wall_loses() {
    let m2 = |ft2: f64| ft2 * SQUARE_METRES_PER_SQUARE_FOOT;
    // 280 ft² of skin, of which an 8 ft wall of 48 ft² becomes the wall between.
    let volume_m3 = 64.0 * 7.0 * 0.3048f64.powi(3);
    let mut small = house(&[(m2(280.0), 1.20 * TRANSMITTANCE_PER_IMPERIAL)], 1_500.0);
    small.envelope.volume_m3 = volume_m3;
    small.envelope.air_changes_per_hour = 1.5;
    let cover = Change {
        name: "second cover, loose".to_owned(),
        layers: vec![(None, Layer::new(0.053, 1.0).unwrap())],
        air_changes_per_hour: Some(1.0),
        ..Change::default()
    };
    let boards = Change {
        name: "boards to 4 ft".to_owned(),
        layers: vec![(None, Layer::new(4.0 / TRANSMITTANCE_PER_IMPERIAL, 128.0 / 280.0).unwrap())],
        ..Change::default()
    };
    let f = |s: &Shelter| night(s, None, -5.0).0.night.difference_k / K_PER_F;
    let (bare, covered, boarded) = (f(&small), f(&small.changed(&cover)), f(&small.changed(&boards)));
    let both = f(&small.changed(&Change::together(&[cover, boards])));
    assert!((13.0..=18.0).contains(&bare) && (23.0..=35.0).contains(&both), "{bare} {both}");
    assert!(covered < 1.75 * bare && boarded < 1.75 * bare && both > 1.9 * bare, "{bare} {covered} {boarded} {both}");

    let mut heated = house(&[(m2(232.0), 1.20 * TRANSMITTANCE_PER_IMPERIAL)], 1_500.0);
    (heated.envelope.volume_m3, heated.envelope.air_changes_per_hour) = (volume_m3, 1.5);
    let hoop = house(&[(m2(250.0), 1.20 * TRANSMITTANCE_PER_IMPERIAL)], 0.0);
    let wall_w_k = m2(48.0) * 1.20 * TRANSMITTANCE_PER_IMPERIAL;
    let beside = Beside::Shelter { shelter: Box::new(hoop.clone()), wall_w_k, correction: Correction::none() };
    let (mine, theirs) = night(&heated, Some(&beside), -5.0);
    let theirs = theirs.unwrap();
    let passed = wall_w_k * (mine.night.inside_minimum_c - theirs.night.inside_minimum_c);
    close(theirs.night.difference_k * hoop.envelope.conductance_w_k(), passed, 1e-6, "the hoop house gains what the wall loses");
    assert!((0.5..6.0).contains(&(theirs.night.difference_k / K_PER_F)), "{}", theirs.night.difference_k / K_PER_F);
    // With the hoop house on that wall the house is warmer than with the wall in the open.
    assert!(mine.night.inside_minimum_c > night(&small, None, -5.0).0.night.inside_minimum_c);
}

/// The wall between counts once: a reading beside a neighbour gives back the loss it was made with, and would not if the wall were forgotten.
#[test]
fn readings_know_the_neighbour() {
    let first = house(&[(26.0, 6.8)], 1_500.0);
    let other = house(&[(30.0, 4.0)], 2_000.0);
    let g = first.envelope.conductance_w_k();
    let beside = Beside::Shelter { shelter: Box::new(other), wall_w_k: 40.0, correction: Correction::none() };
    let (mine, theirs) = night(&first, Some(&beside), -7.0);
    let inside_c = mine.night.inside_minimum_c;
    let reading = Reading { outside_c: -7.0, inside_c, heater_w: 1_500.0 };
    let read = theirs.unwrap().night.inside_minimum_c;
    for known in [Some(read), None] {
        let other_heat_w = beside.heat_w(-7.0, inside_c, known);
        let factor = Observed { reading, other_heat_w, described_w_k: g }.log_factor().unwrap().exp();
        close(factor, 1.0, 1e-6, "with the neighbour");
    }
    let alone = Observed { reading, other_heat_w: 0.0, described_w_k: g }.log_factor().unwrap().exp();
    assert!((alone - 1.0).abs() > 0.05, "{alone}");
}

#[test]
fn a_garage_against_a_house_is_held_up_by_its_wall() {
    let garage = house(&[(60.0, 2.1), (25.0, 1.0)], 0.0);
    let beside = Beside::Room(Room { wall_w_k: 18.0 * 0.6, temperature_c: 20.0 });
    let (mine, theirs) = night(&garage, Some(&beside), -10.0);
    assert!(theirs.is_none());
    // Wall × (20 − T) = G (T + 10), solved by hand.
    let (g, wall) = (60.0 * 2.1 + 25.0, 18.0 * 0.6);
    close(mine.night.inside_minimum_c, (wall * 20.0 - g * 10.0) / (g + wall), 1e-9, "balance");
}

#[test]
fn a_wall_larger_than_the_rest_of_the_skin_is_refused() {
    let said = check_wall(30.0, 22.0, "the shelter").unwrap_err().to_string();
    assert!(said.contains("30.0 m²") && said.contains("22.0 m²") && said.contains("the shelter"), "{said}");
    assert!(check_wall(12.0, 22.0, "the shelter").is_ok());
}

proptest! {
    /// More heat next door never cools a shelter; what warms the neighbour through the wall is what the shelter pays.
    #[test]
    fn a_warmer_neighbour_never_cools(
        g in 20.0..60.0f64, g2 in 20.0..60.0f64, wall in 1.0..80.0f64, heat in 0.0..3_000.0f64, more in 0.0..1_000.0f64, outside in -20.0..5.0f64,
    ) {
        let mine = house(&[(g, 5.0)], 800.0);
        let at = |w: f64| {
            let beside = Beside::Shelter { shelter: Box::new(house(&[(g2, 5.0)], w)), wall_w_k: wall, correction: Correction::none() };
            night(&mine, Some(&beside), outside)
        };
        let (cold, warm) = (at(heat), at(heat + more));
        prop_assert!(warm.0.night.inside_minimum_c >= cold.0.night.inside_minimum_c - 1e-9);
        // First law over both together: all heat leaves by the two skins.
        let theirs = warm.1.unwrap();
        let out = 5.0 * g * (warm.0.night.inside_minimum_c - outside) + 5.0 * g2 * (theirs.night.inside_minimum_c - outside);
        prop_assert!((out - 800.0 - heat - more).abs() < 1e-6 * (1_000.0 + out.abs()));
        prop_assert!(warm.0.inside_range_c.contains(warm.0.night.inside_minimum_c) && theirs.inside_range_c.contains(theirs.night.inside_minimum_c));
    }
}
