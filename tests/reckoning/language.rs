//! Languages by their tag. Examples are those of RFC 5646, appendix A, and RFC 4647, section 3.4.

use silkward::reckoning::language::Language;

fn tag(given: &str) -> Option<String> {
    given.parse::<Language>().ok().map(|language| language.code().to_owned())
}

#[test]
fn tags_of_a_language_a_script_and_a_region_are_read() {
    for sound in ["de", "fr", "ja", "zh-Hant", "zh-Hans", "sr-Cyrl", "sr-Latn", "zh-Hans-CN", "sr-Latn-RS", "de-DE", "en-US", "es-419"] {
        assert_eq!(tag(sound).as_deref(), Some(sound));
    }
    // RFC 5646, section 2.1.1: the case means nothing; this is how it is usually written.
    assert_eq!(tag(" MN-cYRL-mn ").as_deref(), Some("mn-Cyrl-MN"));
    assert_eq!(tag("hAN").as_deref(), Some("han"));
}

#[test]
fn anything_else_is_refused() {
    // The first two are the RFC's own: two region tags; a single letter in front.
    for wrong in ["de-419-DE", "a-DE", "", "-", "e", "engl", "en_GB", "en-", "12", "de-Latn-Latn", "<b>", "zh-Hant-CN-x-private1", "дe"] {
        assert_eq!(tag(wrong), None, "{wrong}");
    }
}

#[test]
fn a_lookup_leaves_off_the_end_of_the_tag_part_by_part() {
    let language: Language = "zh-Hant-CN".parse().unwrap();
    let tags: Vec<String> = language.lookup().iter().map(ToString::to_string).collect();
    assert_eq!(tags, ["zh-Hant-CN", "zh-Hant", "zh"]);
    assert_eq!(Language::english().lookup(), [Language::english()]);
}

#[test]
fn languages_call_themselves_by_their_own_name_and_run_their_own_way() {
    let name = |tag: &str| tag.parse::<Language>().unwrap().name();
    assert_eq!([name("de"), name("de-AT"), name("fr"), name("tlh")], ["Deutsch", "Deutsch (AT)", "Français", "tlh"]);
    let way = |tag: &str| tag.parse::<Language>().unwrap().direction();
    // Unicode, script metadata: Arabic and Hebrew run from right to left.
    assert_eq!([way("ar"), way("he-IL"), way("de"), way("ja"), way("az-Arab"), way("ar-Latn")], ["rtl", "rtl", "ltr", "ltr", "rtl", "ltr"]);
    for offered in Language::offered() {
        assert_ne!(offered.name(), offered.code(), "it has no name");
        assert_eq!(tag(offered.code()).as_deref(), Some(offered.code()));
    }
}
