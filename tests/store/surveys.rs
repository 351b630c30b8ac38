//! The contract of questions to followers and of growers' pages: every test runs on SQLite and on PostgreSQL.

use uuid::Uuid;
use winterfig::records::{
    AnswerContent, AnswerState, GrowerPage, Member, PublicCode, Role, Survey, SurveyAnswer, SurveyAnswerId, SurveyId, sample,
};
use winterfig::store::{AnswerKept, Leaving};

use crate::support::members::{joined, moment};
use crate::support::on_both_engines;

fn survey(owner: &Member, at: i64) -> Survey {
    Survey {
        id: SurveyId(Uuid::now_v7()),
        code: PublicCode::from_random(Uuid::now_v7()),
        owner: owner.id,
        asker: "Weir Lane".to_owned(),
        winter: "2025/26".parse().unwrap(),
        open: true,
        made: moment(at),
    }
}

fn answer(survey: &Survey, at: i64) -> SurveyAnswer {
    SurveyAnswer {
        id: SurveyAnswerId(Uuid::now_v7()),
        survey: survey.id,
        content: AnswerContent {
            second_hand: true,
            name: "Celeste".to_owned(),
            cultivar: None,
            in_pot: false,
            place: Some("Graz, Austria".to_owned()),
            point: None,
            record: sample::record(),
        },
        flags: Vec::new(),
        state: AnswerState::Shown,
        sent: moment(at),
    }
}

on_both_engines! {
    async fn an_answer_is_kept_once_under_its_key_and_only_while_the_question_is_open(database) {
        let store = database.open().await;
        let (who, other) = (joined(&*store, "asker", Role::Member).await, joined(&*store, "another", Role::Member).await);
        let asked = survey(&who, 1);
        assert!(store.add_survey(&asked, 1).await.unwrap());
        assert!(!store.add_survey(&survey(&who, 2), 1).await.unwrap(), "no more than there is room for");
        assert_eq!(store.survey_by_code(&asked.code).await.unwrap().as_ref(), Some(&asked));
        let (first, second) = (answer(&asked, 3), answer(&asked, 4));
        assert_eq!(store.add_survey_answer(&first, "a", 2).await.unwrap(), AnswerKept::Fresh);
        assert_eq!(store.add_survey_answer(&second, "a", 2).await.unwrap(), AnswerKept::Repeat);
        assert_eq!(store.survey_answers(asked.id).await.unwrap(), std::slice::from_ref(&first));
        assert!(!store.open_survey(&asked.code, other.id, false).await.unwrap() && store.open_survey(&asked.code, who.id, false).await.unwrap());
        assert_eq!(store.add_survey_answer(&second, "b", 2).await.unwrap(), AnswerKept::NotTaken);
        assert!(store.open_survey(&asked.code, who.id, true).await.unwrap());
        assert_eq!(store.add_survey_answer(&second, "b", 2).await.unwrap(), AnswerKept::Fresh);
        assert_eq!(store.add_survey_answer(&answer(&asked, 5), "c", 2).await.unwrap(), AnswerKept::NotTaken, "full");
        assert!(store.judge_survey_answer(first.id, AnswerState::SetAside).await.unwrap());
        let aside = store.survey_answers_in(AnswerState::SetAside, 9).await.unwrap();
        assert_eq!((aside.len(), &aside[0].1), (1, &asked));
        assert!(!store.delete_survey(&asked.code, other.id).await.unwrap() && store.delete_survey(&asked.code, who.id).await.unwrap());
        assert!(store.survey_answers(asked.id).await.unwrap().is_empty(), "they go with it");
    }

    async fn questions_and_the_public_page_go_with_their_member(database) {
        let store = database.open().await;
        let who = joined(&*store, "asker", Role::Member).await;
        let asked = survey(&who, 1);
        assert!(store.add_survey(&asked, 9).await.unwrap());
        store.add_survey_answer(&answer(&asked, 2), "a", 9).await.unwrap();
        let page = GrowerPage {
            member: who.id,
            code: PublicCode::from_random(Uuid::now_v7()),
            title: "Figs of the weir".to_owned(),
            recommends: "Cover them.".to_owned(),
            set_aside: false,
            made: moment(3),
        };
        store.keep_grower_page(&page).await.unwrap();
        let changed = GrowerPage { code: PublicCode::from_random(Uuid::now_v7()), recommends: "Cover them well.".to_owned(), ..page.clone() };
        store.keep_grower_page(&changed).await.unwrap();
        let kept = store.grower_page_of(who.id).await.unwrap().unwrap();
        assert_eq!((&kept.code, kept.recommends.as_str()), (&page.code, "Cover them well."), "its word stays");
        assert!(store.judge_grower_page(&page.code, true).await.unwrap());
        assert!(store.grower_page_by_code(&page.code).await.unwrap().unwrap().set_aside);
        store.forget_member(who.id, Leaving::KeepRecords, Uuid::nil(), moment(4)).await.unwrap();
        assert_eq!(store.survey_by_code(&asked.code).await.unwrap(), None);
        assert!(store.survey_answers(asked.id).await.unwrap().is_empty());
        assert_eq!(store.grower_page_by_code(&page.code).await.unwrap(), None);
    }
}
