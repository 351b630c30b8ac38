//! One report in 64 bytes: what lists, pictures and the fit read of it.

use super::Register;
use crate::records::MemberId;
use crate::records::evidence::{AcceptedReport, garden};
use crate::records::place::{Cell, FineCells, HeldPoint, Publish, PublishedPlace};
use crate::records::report::{Report, ReportId};
use crate::records::review_state::ReviewState;
use crate::records::winter::Winter;
use crate::records::words::{Cover, Stage, Thermometer, Vitality};
use crate::science::fruiting::shoots::ShootSeen;
use crate::science::hardiness::level::DamageLevel;
use crate::science::hardiness::observation::DamageRange;
use crate::science::site::{Culture, PotVolume, Setting, Store};
use crate::units::Celsius;

/// Reporter of a row whose member has left, or who was never known.
pub const NO_REPORTER: u32 = u32::MAX;
/// Temperatures are held in millionths of a degree: a thousandth of the last digit of a reading turned from °F.
const PER_DEGREE: f64 = 1e6;
/// Computed hardiness is held in thousandths of a kelvin: at most ±20 K, published in steps of half a kelvin.
const PER_KELVIN: f64 = 1e3;
/// Lengths of shoots are held in steps of 5 cm, finer than they are measured.
const SHOOT_STEP_CM: u16 = 5;
/// In the place of a temperature that was not told.
const NO_TEMPERATURE: i32 = i32::MIN;
/// In the place of years that were not told: more than any plant has.
const NO_YEARS: u8 = u8::MAX;
/// In the place of a difference or coordinate that was not told.
const NOTHING: i16 = i16::MIN;

/// One report.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    /// The report.
    pub id: ReportId,
    /// Number of its plant, from 0.
    pub plant: u32,
    /// Number of its reporter, or [`NO_REPORTER`].
    pub reporter: u32,
    /// Number of what its plant is named after.
    pub name: u32,
    coldest_millionths: i32,
    /// Litres of its pot; not a number where they are not known.
    litres: f32,
    latitude_h: i16,
    longitude_h: i16,
    garden: u16,
    harder_thousandths: i16,
    /// Winter.
    pub winter: Winter,
    /// Whole years since planting.
    pub years: Option<u8>,
    /// [`NO_YEARS`] where they were not told.
    wood_years: u8,
    /// Longest new shoot in steps of 5 cm; 0: not told.
    shoot_steps: u8,
    /// Damage that its answers leave possible.
    pub damage: Option<DamageRange>,
    /// How the coldest temperature was measured.
    pub thermometer: Option<Thermometer>,
    /// What the plant was doing when the cold came.
    pub stage: Option<Stage>,
    setting: Option<Setting>,
    /// Protection.
    pub cover: Cover,
    store: Option<Store>,
    /// Whether the plant lives.
    pub vitality: Vitality,
    state: ReviewState,
    publish: Publish,
    /// Whether it stood in a pot.
    pub in_pot: bool,
    marks: u8,
}

/// Every plant of the garden was reported.
const COMPLETE: u8 = 1;
/// The place is shown on the grid of 0.1°.
const FINE: u8 = 2;

/// The numbers under which the same plant, reporter and name stand in other rows.
pub(super) struct Numbers {
    pub plant: u32,
    pub reporter: u32,
    pub name: u32,
}

impl Row {
    pub(super) fn new(report: &Report, numbers: &Numbers, fine: &FineCells) -> Self {
        let (plant, record) = (&report.plant, &report.record);
        let point = plant.place.point.map(HeldPoint::hundredths);
        let hundredths = |of: fn((i64, i64)) -> i64| point.map_or(NOTHING, |point| i16::try_from(of(point)).unwrap_or(NOTHING));
        let litres = if let Culture::Container(Some(volume)) = plant.culture { volume.litres() as f32 } else { f32::NAN };
        let harder = record.heat.and_then(|heat| heat.harder_k).map_or(NOTHING, |k| (k * PER_KELVIN).round() as i16);
        let mut row = Self {
            id: report.id,
            plant: numbers.plant,
            reporter: numbers.reporter,
            name: numbers.name,
            coldest_millionths: record.coldest.as_ref().map_or(NO_TEMPERATURE, |c| (c.celsius.degrees() * PER_DEGREE).round() as i32),
            litres,
            latitude_h: hundredths(|point| point.0),
            longitude_h: hundredths(|point| point.1),
            garden: garden(&plant.place),
            harder_thousandths: harder,
            winter: record.winter,
            years: plant.years_at(record.winter),
            wood_years: record.wood_years.unwrap_or(NO_YEARS),
            shoot_steps: record.shoot_cm.map_or(0, |cm| u8::try_from((cm + SHOOT_STEP_CM / 2) / SHOOT_STEP_CM).unwrap_or(u8::MAX)),
            damage: record.damage(),
            thermometer: record.coldest.as_ref().map(|c| c.thermometer),
            stage: record.stage,
            setting: plant.setting,
            cover: record.cover,
            store: record.store,
            vitality: record.vitality,
            state: report.state,
            publish: plant.place.publish,
            in_pot: matches!(plant.culture, Culture::Container(_)),
            marks: if record.complete_list { COMPLETE } else { 0 },
        };
        row.show_in(fine);
        row
    }

    /// Notes whether the place is among the cells that are shown finely.
    pub(super) fn show_in(&mut self, fine: &FineCells) {
        let is_fine = self.point().is_some_and(|point| match self.publish {
            Publish::AsPublished => true,
            Publish::Grid => fine.holds(point.cell()),
            _ => false,
        });
        self.marks = if is_fine { self.marks | FINE } else { self.marks & !FINE };
    }

    /// The point, to 0.01°; not public.
    pub(super) fn point(&self) -> Option<HeldPoint> {
        if self.latitude_h == NOTHING || self.longitude_h == NOTHING {
            return None;
        }
        HeldPoint::from_hundredths(self.latitude_h.into(), self.longitude_h.into()).ok()
    }

    /// Whether its member chose the fine grid.
    pub(super) fn chose_fine(&self) -> bool {
        self.publish == Publish::Grid
    }

    /// What the public sees of its place.
    pub fn place(&self) -> PublishedPlace {
        match self.cell() {
            Some(cell) => PublishedPlace::Cell(cell),
            None => PublishedPlace::Withheld,
        }
    }

    /// The published cell.
    pub fn cell(&self) -> Option<Cell> {
        if self.publish == Publish::Nowhere {
            return None;
        }
        let cell = self.point()?.cell();
        Some(if self.marks & FINE != 0 { cell } else { cell.coarser() })
    }

    /// Coldest temperature met.
    pub fn coldest(&self) -> Option<Celsius> {
        Celsius::new(f64::from(self.coldest_millionths) / PER_DEGREE).ok().filter(|_| self.coldest_millionths != NO_TEMPERATURE)
    }

    /// The same in whole hundredths of a degree, as it is published: what bounds are compared with.
    pub fn coldest_hundredths(&self) -> Option<i32> {
        self.coldest().map(Celsius::hundredths)
    }

    /// The worst damage that its answers leave possible.
    pub fn worst(&self) -> Option<DamageLevel> {
        self.damage.map(DamageRange::high)
    }

    /// Whether a steward took it with doubt.
    pub fn is_doubtful(&self) -> bool {
        self.state == ReviewState::AcceptedWithDoubt
    }

    /// What it tells of the length of new shoots: of a plant that lives and lost wood or its whole top.
    pub fn shoots(&self) -> Option<ShootSeen> {
        let died_back = self.damage.is_some_and(|damage| damage.low() >= DamageLevel::Wood);
        let tells = self.shoot_steps > 0 && died_back && self.vitality == Vitality::Alive && self.state == ReviewState::Accepted;
        let length_m = f64::from(u16::from(self.shoot_steps) * SHOOT_STEP_CM) / 100.0;
        tells.then_some(ShootSeen { length_m, years: self.years })
    }

    fn culture(&self) -> Culture {
        if self.in_pot { Culture::Container(PotVolume::new(round_litres(self.litres)).ok()) } else { Culture::Ground }
    }

    /// The id that stands for a reporter's number in what the fit reads; none for nobody's.
    pub fn member_of(reporter: u32) -> Option<MemberId> {
        (reporter != NO_REPORTER).then(|| MemberId(uuid::Uuid::from_u128(u128::from(reporter) + 1)))
    }

    /// What the fit reads of it, where it holds any evidence. Its reporter is a number, told from all others and from nobody's.
    pub fn evidence(&self, register: &Register) -> Option<AcceptedReport> {
        self.cover.protection()?;
        Some(AcceptedReport {
            id: self.id,
            cultivar: register.cultivar(self)?.clone(),
            reporter: Self::member_of(self.reporter),
            garden: self.garden,
            winter: self.winter,
            coldest: self.coldest()?,
            thermometer: self.thermometer?,
            setting: self.setting,
            culture: self.culture(),
            cover: self.cover,
            stage: self.stage,
            years: self.years,
            harder_k: (self.harder_thousandths != NOTHING).then(|| f64::from(self.harder_thousandths) / PER_KELVIN),
            wood_years: (self.wood_years != NO_YEARS).then_some(self.wood_years),
            store: self.store,
            damage: self.damage?,
            doubtful: self.is_doubtful(),
            complete_list: self.marks & COMPLETE != 0,
        })
    }
}

/// Litres to a hundredth, finer than any pot is measured: single precision has more digits than were told.
fn round_litres(litres: f32) -> f64 {
    (f64::from(litres) * 100.0).round() / 100.0
}
