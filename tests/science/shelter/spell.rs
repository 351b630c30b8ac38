//! A spell of cold: what pots, soil, water and plants carry from night to day to night.

use proptest::prelude::*;
use winterfig_core::science::climate::equivalent::REFERENCE_NIGHTS;
use winterfig_core::science::cold_night::lump::Lump;
use winterfig_core::science::cold_night::pot::{FROZEN_HEAT_J_M3K, HEAT_J_M3K, LATENT_J_M3, Medium, Pot, Stands};
use winterfig_core::science::cold_night::risk::PlantTonight;
use winterfig_core::science::cold_night::spell::acclimation::after_a_day;
use winterfig_core::science::cold_night::spell::days::{ForecastDay, MOST_NIGHTS, Spell, SpellError};
use winterfig_core::science::cold_night::spell::felt::{Felt, Follower};
use winterfig_core::science::cold_night::spell::lowest::{Lowest, POINTS_OF_NORMAL, chance_at_most};
use winterfig_core::science::cold_night::spell::spots::{Spot, SpotNight};
use winterfig_core::science::cold_night::spell::stores::{Stores, cover_shares, soil_at_dusk, soil_at_start_c, soil_of_a_square_metre};
use winterfig_core::science::cold_night::stage::{NightKind, Stage};
use winterfig_core::science::cold_night::tonight::Forecast;
use winterfig_core::science::exposure::AgeEffects;
use winterfig_core::science::exposure::nights_counted;
use winterfig_core::science::numeric::Gaussian;

use super::{Seed, close};

pub(super) fn row(minimum_c: f64, day_maximum_c: Option<f64>) -> ForecastDay {
    let night = Forecast {
        minimum_c: Gaussian::new(minimum_c, 1.6),
        evening_c: None,
        hours_below_0: None,
        night_hours: None,
        kind: NightKind::ClearStill,
    };
    ForecastDay { date: None, day_maximum_c, night }
}

pub(super) fn spell(seed: &Seed, rows: &[(f64, f64)]) -> Spell {
    let rows: Vec<ForecastDay> = rows.iter().map(|(low, high)| row(*low, Some(*high))).collect();
    Spell::from_forecast(&rows, &seed.night_priors.usual).unwrap()
}

pub(super) fn potted(seed: &Seed, litres: f64, start_c: Option<f64>) -> PlantTonight {
    PlantTonight {
        belief: seed.priors.belief(None, false),
        age: AgeEffects::ESTABLISHED,
        stage: Stage::Hard,
        deficit_k: None,
        spot: None,
        pot_litres: Some(litres),
        stands: Stands::OnGround,
        pot_start_c: start_c,
    }
}

fn left_out(seed: &Seed, plant: &PlantTonight, spell: &Spell) -> Felt {
    let open = Spot::open(spell).course(spell);
    let courses = [&open];
    Follower::new(plant, &courses, seed.rules()).felt(&vec![0; spell.len()])
}

fn lump() -> Lump {
    let pot = Pot::new(20.0, Stands::OnGround, false);
    Lump { thawed_j_k: HEAT_J_M3K, frozen_j_k: FROZEN_HEAT_J_M3K, latent_j: LATENT_J_M3, conductance_w_k: pot.loss_w_k() / 0.02 }
}

/// The equation's own solution in constant air: an exponential to 0 °C, a straight loss of latent heat, an exponential of the frozen pot;
/// and the same backwards in a thaw.
#[test]
fn a_pot_through_days_of_constant_cold_and_a_thaw_follows_its_own_solution() {
    let (lump, hour) = (lump(), 3_600.0);
    let (thawed, frozen) = (lump.thawed_j_k / lump.conductance_w_k, lump.frozen_j_k / lump.conductance_w_k);
    let air = -9.0f64;
    let to_zero = thawed * ((6.0 - air) / -air).ln();
    let to_freeze = lump.latent_j / (lump.conductance_w_k * -air);
    assert!(to_zero > 3.0 * hour && to_freeze > 24.0 * hour, "days, not hours");
    for seconds in [2.0 * hour, to_zero + 0.4 * to_freeze, to_zero + to_freeze + 30.0 * hour] {
        let end = [1, 7, 500].map(|steps| (0..steps).fold(lump.heat_at(6.0), |heat, _| lump.after(heat, air, seconds / f64::from(steps))));
        let wanted = if seconds < to_zero {
            lump.heat_at(air + (6.0 - air) * (-seconds / thawed).exp())
        } else if seconds < to_zero + to_freeze {
            -lump.conductance_w_k * -air * (seconds - to_zero)
        } else {
            lump.heat_at(air - air * (-(seconds - to_zero - to_freeze) / frozen).exp())
        };
        for heat in end {
            close(heat / lump.latent_j, wanted / lump.latent_j, 1e-9, "heat");
        }
    }
    // Thaw: from −9 °C frozen through in air of +5 °C.
    let (air, start) = (5.0f64, -9.0f64);
    let warming = frozen * ((start - air) / -air).ln();
    let thawing = lump.latent_j / (lump.conductance_w_k * air);
    let end = lump.after(lump.heat_at(start), air, warming + thawing + 10.0 * hour);
    close(lump.temperature_c(end), air - air * (-10.0 * hour / thawed).exp(), 1e-9, "thawed");
}

/// Reference (`tests/science/shelter/data/pot.py`): the same balance stepped by one second in Python 3.11 (explicit Euler on the heat content of
/// a 20 L pot on the ground in calm air, 3 °C at first, air −1 or −7 + 6·sin(2πt/24 h) °C for five days): temperature and frozen share every 12 h.
/// Tolerance 0.02 K and 0.002 for our steps of a quarter of an hour with the air held.
#[test]
fn a_pot_through_five_days_agrees_with_a_fine_step_integration() {
    let pot = Pot::new(20.0, Stands::OnGround, false);
    close(pot.loss_w_k(), 1.711_913_862, 1e-8, "W/K");
    let reference = [
        (
            -1.0,
            [
                (2.6587, 0.0),
                (0.0, 0.1054),
                (0.0, 0.0274),
                (0.0, 0.1608),
                (0.0, 0.0828),
                (0.0, 0.2162),
                (0.0, 0.1381),
                (0.0, 0.2715),
                (0.0, 0.1935),
                (0.0, 0.3269),
            ],
        ),
        (
            -7.0,
            [
                (0.0, 0.0528),
                (0.0, 0.3523),
                (0.0, 0.4403),
                (0.0, 0.7398),
                (0.0, 0.8278),
                (-7.5977, 1.0),
                (-3.9372, 1.0),
                (-9.9845, 1.0),
                (-4.013, 1.0),
                (-9.9869, 1.0),
            ],
        ),
    ];
    for (mean, expected) in reference {
        let mut medium = Medium::at(3.0);
        let mut step = 0;
        for (celsius, frozen) in expected {
            for _ in 0..48 {
                let hour = (f64::from(step) + 0.5) / 4.0;
                medium = medium.after(&pot, mean + 6.0 * (std::f64::consts::TAU * hour / 24.0).sin(), 900.0);
                step += 1;
            }
            close(medium.temperature_c(), celsius, 0.02, &format!("{mean} °C, step {step}"));
            close(medium.frozen_share(), frozen, 0.002, &format!("{mean} °C frozen, step {step}"));
        }
    }
}

/// The night on which the temperature of the pot at dusk decides: −8 °C, clear and still, an unknown kind, leafless, 20 L.
#[test]
fn a_pot_that_starts_the_dusk_frozen_through_dies_where_one_at_freezing_lives() {
    let seed = Seed::read();
    let night = Spell::from_forecast(&[row(-8.0, None)], &seed.night_priors.usual).unwrap();
    let dead = |start| left_out(&seed, &potted(&seed, 20.0, Some(start)), &night).risk.chance.dead;
    assert!(dead(0.0) < 0.05, "{}", dead(0.0));
    assert!(dead(-3.0) > 5.0 * dead(0.0), "{} against {}", dead(-3.0), dead(0.0));
}

/// A pot of 20 L comes to the third dusk of a spell with what two nights and days left it, not at 0 °C.
#[test]
fn a_spell_carries_the_cold_of_a_pot_where_single_nights_forget_it() {
    let seed = Seed::read();
    let plant = potted(&seed, 20.0, None);
    let nights = [(-9.0, 7.0), (-9.0, -3.0), (-9.0, -4.0), (-9.0, -4.0), (-9.0, -4.0), (-9.0, -4.0)];
    let alone = left_out(&seed, &plant, &spell(&seed, &nights[..1]));
    let whole = left_out(&seed, &plant, &spell(&seed, &nights));
    assert!(alone.risk.pot.unwrap().mean_c == 0.0);
    assert!(whole.risk.pot.unwrap().mean_c < -5.0, "{:?}", whole.risk.pot);
    assert!(whole.risk.chance.dead > 3.0 * alone.risk.chance.dead, "{} against {}", whole.risk.chance.dead, alone.risk.chance.dead);
}

/// Against 4,000,000 draws (numpy 2, seed 1, one shared and one own normal per night, correlation 0.5): two thousandths are their own error.
#[test]
fn the_lowest_of_nights_that_miss_together_agrees_with_drawing_them() {
    let alike = |n: usize| vec![Gaussian::new(-8.0, 1.6); n];
    let of = |list: &[(f64, f64)]| list.iter().map(|(m, s)| Gaussian::new(*m, *s)).collect::<Vec<_>>();
    let cases = [
        (alike(2), -8.6367, 1.4672),
        (alike(8), -9.6111, 1.3256),
        (of(&[(-12.0, 1.6), (-9.0, 1.8), (-10.0, 2.0), (-8.0, 2.2)]), -12.1563, 1.5652),
        (of(&[(-5.0, 1.6), (-7.0, 1.6), (-7.5, 1.8), (-9.0, 2.0), (-8.5, 2.2), (-7.0, 2.6), (-6.0, 3.0), (-4.0, 3.3)]), -9.9222, 1.8719),
    ];
    for (nights, mean, sd) in cases {
        let low = Lowest::default().of(&nights);
        let by = |f: &dyn Fn(f64) -> f64| low.iter().zip(POINTS_OF_NORMAL.iter()).map(|(t, (_, w))| w * f(*t)).sum::<f64>();
        let found = by(&|t| t);
        close(found, mean, 0.005, "mean");
        close(by(&|t| (t - found).powi(2)).sqrt(), sd, 0.005, "spread");
        // The middle of the distribution lies between the two middle points.
        let half = chance_at_most(&nights, f64::midpoint(low[low.len() / 2 - 1], low[low.len() / 2]));
        close(half, 0.5, 0.01, "middle");
    }
    let one = Gaussian::new(-3.0, 2.0);
    for (t, (z, _)) in Lowest::default().of(&[one]).iter().zip(POINTS_OF_NORMAL.iter()) {
        close(*t, -3.0 + 2.0 * z, 1e-12, "a lone night");
    }
    // A place held at 4 °C among uncertain nights: never above it.
    let held = Lowest::default().of(&[Gaussian::new(4.0, 0.0), Gaussian::new(3.0, 2.0), Gaussian::new(5.0, 2.0)]);
    assert!(held.iter().all(|t| *t <= 4.0) && held.windows(2).all(|w| w[0] <= w[1]), "{held:?}");
}

/// By hand: each night counts 2^(−(T − lowest)/2 K). Nights of a usual week of cold are those of a usual winter, whatever the kind of climate;
/// the longest, by the sea, counts 1 + 2^(−1.25) + 2^(−2.4) + 2^(−3.4) + 2^(−4.15) + 2^(−4.25) + 2^(−4.3) = 1.864.
#[test]
fn a_lone_night_and_a_usual_week_are_a_usual_winters_and_further_nights_are_counted_on_top() {
    let priors = Seed::read().priors;
    let counted = |means: &[f64]| nights_counted(means, &priors);
    close(counted(&[-8.0]), REFERENCE_NIGHTS, 1e-12, "alone");
    close(counted(&[-8.0; 8]), REFERENCE_NIGHTS + 8.0 - 1.864, 2e-3, "alike");
    close(counted(&[-8.0, -7.0, -6.0]), REFERENCE_NIGHTS + 1.0 + std::f64::consts::FRAC_1_SQRT_2 + 0.5 - 1.864, 2e-3, "milder");
    for kind in winterfig_core::science::climate::kind::ClimateKind::ALL {
        close(counted(&priors.climate(*kind).spell_minima_k), REFERENCE_NIGHTS, 1e-12, "a usual week");
    }
}

#[test]
fn covers_over_soil_gain_less_as_it_runs_down_and_never_more_than_on_the_first_night() {
    let seed = Seed::read();
    let cold = spell(&seed, &[(-8.0, 4.0), (-9.0, -2.0), (-10.0, -3.0), (-10.0, -3.0), (-9.0, -2.0), (-8.0, 0.0)]);
    let soil = soil_at_dusk(&cold, soil_at_start_c(None, &cold));
    assert!(soil.windows(2).all(|w| w[1] <= w[0]), "{soil:?}");
    let shares = cover_shares(&cold, &soil);
    close(shares[0], 1.0, 1e-12, "first night");
    assert!(shares[5] < 0.9 && shares[5] > 0.4, "{shares:?}");
    // Wet soil waits at 0 °C: 0.3 m of it hold 25 MJ a square metre, at some 40 W/m² a week.
    close(soil[5], 0.0, 1e-9, "plateau");
    close(soil_of_a_square_metre().latent_j, 25.05e6, 1e4, "latent heat");
}

fn shed(nights: usize, stores: Option<Stores>) -> Spot {
    let night = SpotNight { a_c: 3.0, b: 0.85, own_sd_k: 1.2, evening_extra_k: 0.0, windy: false };
    Spot { nights: vec![night; nights], roofed: true, stores }
}

/// Energy: what water gives is what its heat content lost.
#[test]
fn water_in_a_place_holds_it_up_until_it_has_frozen() {
    let seed = Seed::read();
    let cold = spell(&seed, &[(-9.0, 2.0), (-10.0, -3.0), (-10.0, -3.0), (-10.0, -3.0), (-10.0, -3.0)]);
    let stores = Stores { place_w_k: 40.0, water_l: 200.0, water_c: 4.0, soil_m2: 0.0, soil_c: 0.0 };
    let (bare, held) = (shed(5, None).course(&cold), shed(5, Some(stores)).course(&cold));
    let gains: Vec<f64> = bare.nights.iter().zip(&held.nights).map(|(b, h)| h.minimum_c - b.minimum_c).collect();
    // A conductance of 16 W/K against 40: 2/7 of the distance to the water.
    close(gains[0], 16.0 / 56.0 * (0.0 - bare.nights[0].minimum_c), 0.8, "first night");
    assert!(gains.windows(2).all(|w| w[1] <= w[0] + 0.5) && gains[4] > 0.0, "{gains:?}");
    let none = shed(5, Some(Stores { water_l: 0.0, ..stores })).course(&cold);
    for (a, b) in none.nights.iter().zip(&bare.nights) {
        close(a.minimum_c, b.minimum_c, 0.05, "no water");
    }
}

#[test]
fn cold_days_harden_what_is_not_yet_hard_and_warm_ones_in_a_house_undo_it() {
    let harder = (0..5).fold(0.35, |s, _| after_a_day(Stage::LeavesDown, s, -2.0, 0.5));
    assert!(harder < 0.34 && harder > 0.2, "{harder}");
    let softer = (0..5).fold(0.0, |s, _| after_a_day(Stage::Buds, s, 12.0, 0.5));
    assert!(softer > 0.05, "{softer}");
    assert_eq!(after_a_day(Stage::RootedCutting, 1.0, -5.0, 0.5), 1.0);
}

#[test]
fn nights_out_of_order_missing_or_too_many_are_named() {
    let seed = Seed::read();
    let dated = |days: &[i8]| -> Vec<ForecastDay> {
        days.iter().map(|d| ForecastDay { date: Some(jiff::civil::date(2027, 1, *d)), ..row(-5.0, None) }).collect()
    };
    let read = |rows: &[ForecastDay]| Spell::from_forecast(rows, &seed.night_priors.usual);
    assert_eq!(read(&dated(&[12, 13, 14])).unwrap().len(), 3);
    assert!(
        matches!(read(&dated(&[12, 14])), Err(SpellError::Missing { index: 1, missing, .. }) if missing == jiff::civil::date(2027, 1, 13))
    );
    assert!(matches!(read(&dated(&[12, 11])), Err(SpellError::OutOfOrder { index: 1, .. })));
    assert!(matches!(read(&dated(&[12, 12])), Err(SpellError::OutOfOrder { .. })));
    assert!(matches!(read(&[]), Err(SpellError::Empty)));
    assert!(matches!(read(&vec![row(-5.0, None); 30]), Err(SpellError::TooMany { nights: 30 })));
    assert!(read(&vec![row(-5.0, None); MOST_NIGHTS]).is_ok());
    assert!(matches!(read(&[row(-5.0, Some(-6.0))]), Err(SpellError::DayBelowNight { index: 0, .. })));
    let mut mixed = dated(&[12, 13]);
    mixed[1].date = None;
    assert!(matches!(read(&mixed), Err(SpellError::Undated { index: 1 })));
}

/// Linvill's evening two hours after sunset, by hand: night of 14 h, day of 10 h from −6 to 4 °C, next lowest −8 °C.
#[test]
fn the_evening_follows_from_the_days_highest_by_the_published_curve() {
    let seed = Seed::read();
    let two = spell(&seed, &[(-6.0, 3.0), (-8.0, 4.0)]);
    let sunset = -6.0 + 10.0 * (std::f64::consts::PI * 10.0 / 14.0).sin();
    close(two.nights()[1].air.evening_c, sunset - (sunset + 8.0) * 3f64.ln() / 15f64.ln(), 1e-9, "evening");
    // Without a day's highest the same formula is run backwards, so the day leads to the evening.
    let by_evening = Spell::from_forecast(&[row(-6.0, None), row(-8.0, None)], &seed.night_priors.usual).unwrap();
    let again = spell(&seed, &[(-6.0, by_evening.nights()[0].day_maximum_c), (-8.0, by_evening.nights()[1].day_maximum_c)]);
    for (a, b) in by_evening.nights().iter().zip(again.nights()) {
        close(a.air.evening_c, b.air.evening_c, 1e-9, "evening");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    /// For every level. In the ground 1e-5 is what the places leave at which the distribution of the lowest is worked out (2e-7 seen). In a pot
    /// what is not known of its temperature grows with its distance from the air, and a wider doubt takes a little from a chance above one half
    /// (1e-3 seen for a large pot on whose way colder air came).
    #[test]
    fn longer_and_colder_never_helps(
        lows in prop::collection::vec(-16.0..0.0f64, 2..7), colder in 0.0..5.0f64, at in 0..6usize, litres in prop::option::of(2.0..60.0f64),
    ) {
        let seed = Seed::read();
        let plant = PlantTonight { pot_litres: litres, ..potted(&seed, 1.0, None) };
        let reached = |rows: &[(f64, f64)]| {
            let chance = left_out(&seed, &plant, &spell(&seed, rows)).risk.chance.to_array();
            [1, 2, 3, 4].map(|k| chance[k..].iter().sum::<f64>())
        };
        let rows: Vec<(f64, f64)> = lows.iter().map(|low| (*low, 2.0)).collect();
        let mut deeper = rows.clone();
        deeper[at % rows.len()].0 -= colder;
        let [shorter, whole, deeper] = [&rows[..rows.len() - 1], &rows, &deeper].map(reached);
        let doubt = if litres.is_some() { 5e-3 } else { 1e-5 };
        for level in 0..4 {
            prop_assert!(whole[level] >= shorter[level] - doubt, "longer: {whole:?} after {shorter:?}");
            prop_assert!(deeper[level] >= whole[level] - doubt, "colder: {deeper:?} after {whole:?}");
        }
    }
}
