//! Winter reports: the plant, what a winter did to it, flags, review, members, and what of it all is made public.
//!
//! Values here are typed and whole: a form or file is parsed into them or refused. Names of terms in the data release follow Darwin Core
//! and Dublin Core (see `release`). Nothing here reads a clock, a file or a database.

pub mod archive;
pub mod csv_lines;
pub mod evidence;
pub mod flag;
pub mod flag_rules;
pub mod forecast_document;
pub mod letter;
pub mod member;
pub mod met_cold;
pub mod named_site;
pub mod notice;
pub mod nursery;
pub mod office;
mod outcome;
pub mod place;
pub mod plant;
pub mod plant_checks;
pub mod propagation;
pub mod proposal;
pub mod register;
pub mod release;
pub mod reminder;
pub mod report;
mod report_columns;
pub mod report_file;
pub mod review;
pub mod review_state;
#[cfg(any(test, feature = "samples"))]
pub mod sample;
pub mod season;
pub mod setup;
pub mod shelter_report;
pub mod short_address;
pub mod spring_evidence;
pub mod survey;
pub mod text;
pub mod warning;
pub mod winter;
pub mod words;

pub use archive::{ArchiveDocument, NotAStation, StationId};
pub use evidence::AcceptedReport;
pub use flag::{Flag, Flagged};
pub use forecast_document::{ForecastDocument, ForecastSource};
pub use letter::{Letter, LetterKind, LetterPicture, LetterWishes, TakenLetter, VerdictToTell, WordsToTell};
pub use member::{Handle, Member, MemberId, Role};
pub use named_site::{KeptRecord, NamedSite, SiteId, SiteName};
pub use notice::{Notice, NoticeKind};
pub use nursery::{Nursery, NurseryCode, NurseryId, PlantForm, Price, StockAct, StockChange, StockItem, StockLine, StockLineId};
pub use office::{Actor, Invitation, Joining, LogEntry, OfficeAct, Society};
pub use place::{HeldPoint, Place, PublishedPlace};
pub use plant::{Plant, PlantId};
pub use propagation::{BatchField, BatchId, BatchOwner, BatchRecord, Counted, KeptBatch};
pub use proposal::{Proposal, ProposalId, ProposalState, ProposalStep, SeedDifference, WrittenName};
pub use register::Register;
pub use reminder::{FirstScale, ReminderAddress, ReminderReader, SeasonReader, ToldSeason};
pub use report::{Coldest, FirstGrowth, HeatMet, Report, ReportId, WinterRecord};
pub use review::{Decision, Judged, Reason};
pub use review_state::ReviewState;
pub use setup::{Setup, SetupId, SetupKind};
pub use shelter_report::{MeasuredChange, ShelterChange, ShelterContent, ShelterReport, ShelterReportId};
pub use short_address::{KeyFigure, ShortAddress, ShortCode};
pub use survey::{AnswerContent, AnswerState, GrowerPage, PublicCode, Survey, SurveyAnswer, SurveyAnswerId, SurveyId};
pub use warning::{QuietHours, Warning, WarningChoice, WarningKind, WarningMeasure};
pub use winter::{Hemisphere, Winter};
