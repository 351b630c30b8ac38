//! Where a fig usually stands, in one word: setting, culture and protection at once.

/// Parameter that names it.
pub const STANDS_IN: &str = "stands";

/// A parameter and its value.
type Pair = (&'static str, &'static str);

/// Word, label, and the parameters that it stands for.
pub const STANDS: [(&str, &str, [Pair; 3]); 4] = [
    ("ground", "In the ground", [("setting", "open"), ("culture", "ground"), ("protection", "none")]),
    ("wall", "Against a wall", [("setting", "wall"), ("culture", "ground"), ("protection", "none")]),
    ("pot", "In a pot, outdoors", [("setting", "open"), ("culture", "container"), ("protection", "none")]),
    ("pot_inside", "In a pot, carried in", [("setting", "open"), ("culture", "container"), ("protection", "carried_in")]),
];

/// The pairs of a question with that word written out: it overrules what the fields of a form hold beside it. A word that is none stays, to be
/// refused like any other parameter.
pub fn written_out(pairs: &[(String, String)]) -> Vec<(String, String)> {
    let known = pairs.iter().filter(|(name, _)| name == STANDS_IN).find_map(|(_, word)| STANDS.iter().find(|(w, ..)| w == word));
    let Some((word, _, fields)) = known else { return pairs.to_vec() };
    let in_ground = *word == "ground" || *word == "wall";
    let overruled = |name: &str| {
        name == STANDS_IN
            || fields.iter().any(|(field, _)| *field == name)
            || (in_ground && matches!(name, "container_l" | "container_gal"))
            || (*word != "pot_inside" && name == "store")
    };
    let kept = pairs.iter().filter(|(name, _)| !overruled(name)).cloned();
    kept.chain(fields.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned()))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::shortlist::question::Question;
    use crate::model::snapshot::Snapshot;

    #[test]
    fn each_button_asks_a_whole_question_whatever_the_fields_below_it_hold() {
        let snapshot = Snapshot::from_seed().unwrap();
        for (word, label, _) in STANDS {
            let pairs = [
                ("zone", "6b"),
                ("setting", "wall"),
                ("culture", "container"),
                ("container_l", "20"),
                ("protection", "none"),
                ("stands", word),
            ];
            let pairs = pairs.map(|(k, v)| (k.to_owned(), v.to_owned()));
            let question = Question::parse_for(&pairs, true, &snapshot.catalogue).unwrap();
            let query = question.to_query();
            assert_eq!(query.contains("culture=container"), label.contains("pot"), "{query}");
            assert_eq!(query.contains("setting=wall"), word == "wall", "{query}");
            assert_eq!(query.contains("carried_in"), word == "pot_inside", "{query}");
        }
    }
}
