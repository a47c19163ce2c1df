//! Words for messages: one language, read from its catalogue, in force where a reply, a paper or a line is written.
//!
//! A catalogue is one Fluent file for each domain, `seed-data/words/<language>/`. The interface is built without
//! them (feature `words`): what it shows comes to it in words, and its own words as patterns when it starts
//! ([`Catalogue::patterns`]).

#[cfg(not(feature = "words"))]
pub(crate) use without::{between, write};

#[cfg(all(feature = "words", test))]
pub(crate) use with::ids;
#[cfg(feature = "words")]
pub use with::{Catalogue, speaking, spoken};
#[cfg(feature = "words")]
pub(crate) use with::{between, name, write};

#[cfg(not(feature = "words"))]
mod without {
    use crate::message::Message;

    /// Without a catalogue a range is written as in English.
    pub(crate) const fn between() -> &'static str {
        " to "
    }

    /// Without a catalogue a message is its name.
    pub(crate) fn write(message: &Message, out: &mut String) {
        for part in message.parts().iter() {
            out.push_str(part.id().or(part.as_plain()).unwrap_or_default());
        }
    }
}

#[cfg(feature = "words")]
mod with {
    use std::borrow::Cow;
    use std::cell::Cell;
    use std::collections::{BTreeMap, BTreeSet};
    use std::sync::{LazyLock, OnceLock};

    use fluent_bundle::concurrent::FluentBundle;
    use fluent_bundle::{FluentArgs, FluentResource, FluentValue};
    use fluent_syntax::ast;
    use serde_json::{Map, Value, json};

    use crate::message::{Argument, Message};
    use crate::shown::{self, Style};

    /// Files of a catalogue: the name of the domain and the text of each.
    type Files = &'static [(&'static str, &'static str)];

    /// The files of one language: its folder, in it a file for each domain.
    macro_rules! files {
        ($folder:literal) => {
            files!(
                $folder:
                "acts",
                "cautions",
                "choices",
                "circuits",
                "command_line",
                "errors",
                "fields",
                "follows",
                "found",
                "general",
                "interface",
                "papers",
                "plates",
                "problems",
                "shipped",
                "supply",
                "weighing",
            )
        };
        ($folder:literal: $($domain:literal,)+) => {
            &[$((
                $domain,
                include_str!(concat!("../../../seed-data/words/", $folder, "/", $domain, ".ftl")),
            )),+]
        };
    }

    /// Every language: its name as BCP 47 writes it, and its files. What one lacks is said in the first, English.
    const LANGUAGES: &[(&str, Files)] = &[("en", files!("en"))];

    /// The files that every other language is a translation of.
    const ENGLISH: Files = LANGUAGES[0].1;

    /// The domains that the interface makes words of by itself.
    const OF_THE_INTERFACE: &[&str] = &["acts", "choices", "fields", "interface"];

    /// What is done to each text of a catalogue.
    type Transform = fn(&str) -> Cow<'_, str>;

    /// Every word of the catalogue's files, each a name that a message or a thing in it may have: what comes back from a
    /// store finds its own there, and nothing that stands in a file makes a new one.
    static NAMES: LazyLock<BTreeSet<&'static str>> = LazyLock::new(|| {
        let part = |letter: char| letter.is_ascii_alphanumeric() || letter == '-' || letter == '_';
        ENGLISH.iter().flat_map(|(_, text)| text.split(move |letter| !part(letter))).collect()
    });

    /// The name of a message, of a thing in it or of one of its forms, as the catalogue has it.
    pub(crate) fn name(text: &str) -> Option<&'static str> {
        NAMES.get(text).copied()
    }

    /// All words of one language.
    pub struct Catalogue {
        bundle: FluentBundle<FluentResource>,
        style: Style,
        name: &'static str,
        files: Files,
        transform: Option<Transform>,
    }

    /// The catalogues of [`LANGUAGES`], each read when it is first spoken.
    static CATALOGUES: [OnceLock<Catalogue>; LANGUAGES.len()] = [const { OnceLock::new() }; LANGUAGES.len()];
    static LENGTHENED: LazyLock<Catalogue> = LazyLock::new(|| Catalogue::read("en-x-long", ENGLISH, Some(lengthened)));

    thread_local! {
        static SPOKEN: Cell<Option<&'static Catalogue>> = const { Cell::new(None) };
    }

    /// Does some work in which messages get their words from this catalogue.
    pub fn speaking<T>(catalogue: &'static Catalogue, work: impl FnOnce() -> T) -> T {
        struct Before(Option<&'static Catalogue>);
        impl Drop for Before {
            fn drop(&mut self) {
                SPOKEN.set(self.0);
            }
        }
        let _before = Before(SPOKEN.replace(Some(catalogue)));
        work()
    }

    /// The language that is spoken here.
    #[must_use]
    pub fn spoken() -> &'static Catalogue {
        SPOKEN.get().unwrap_or_else(|| Catalogue::english())
    }

    /// Stands between the ends of a range, with its blanks.
    pub(crate) fn between() -> &'static str {
        &spoken().style.between
    }

    /// Writes a message in the language that is spoken here.
    pub(crate) fn write(message: &Message, out: &mut String) {
        spoken().write(message, out);
    }

    impl Catalogue {
        /// English.
        #[must_use]
        pub fn english() -> &'static Self {
            Self::of(0)
        }

        fn of(place: usize) -> &'static Self {
            let (name, files) = LANGUAGES[place];
            CATALOGUES[place].get_or_init(|| Self::read(name, files, None))
        }

        /// English made strange: each text in brackets, longer, its letters accented. What a test or a person sees
        /// without that did not come from the catalogue; what is clipped had no room for another language.
        #[must_use]
        pub fn lengthened() -> &'static Self {
            &LENGTHENED
        }

        /// The language of a name: "en" and what else has a folder, or "en-x-long" for the lengthened one; `None` for
        /// one that is not here.
        #[must_use]
        pub fn named(name: &str) -> Option<&'static Self> {
            match name {
                "en-x-long" => Some(Self::lengthened()),
                _ => LANGUAGES.iter().position(|(language, _)| *language == name).map(Self::of),
            }
        }

        /// Its name, as BCP 47 writes it.
        #[must_use]
        pub fn name(&self) -> &'static str {
            self.name
        }

        /// What stands between whole numbers and tenths.
        #[must_use]
        pub fn decimal(&self) -> char {
            self.style.decimal
        }

        /// The messages that the interface makes words of by itself, by id, each as a pattern in JSON: a text where
        /// nothing stands in it; else a list of parts. A part is a text, `{"of": name}` for what stands there, or
        /// `{"by": name, "forms": {form: pattern}, "else": form}`, where a number chooses among "one", "few" and so
        /// on by the rules of the language, or by its digits, and anything else by its own word.
        #[must_use]
        pub fn patterns(&self) -> BTreeMap<String, Value> {
            let mut patterns = BTreeMap::new();
            // A language's own come last and count.
            let files = [ENGLISH, self.files].into_iter().flatten();
            for (_, text) in files.filter(|(domain, _)| OF_THE_INTERFACE.contains(domain)) {
                let resource = match fluent_syntax::parser::parse(*text) {
                    Ok(resource) | Err((resource, _)) => resource,
                };
                for entry in &resource.body {
                    let ast::Entry::Message(ast::Message { id, value: Some(value), .. }) = entry else { continue };
                    let pattern = self.pattern(value);
                    // A test says so too; outside of it the interface shows the name.
                    debug_assert!(pattern.is_some(), "{}: no pattern can be made of it", id.name);
                    patterns.extend(pattern.map(|pattern| (id.name.to_owned(), pattern)));
                }
            }
            patterns
        }

        /// A message as a pattern in JSON; `None` where something is in it that the interface has no form for: a
        /// function, another message, a choice by something else than what stands in the message.
        fn pattern(&self, message: &ast::Pattern<&str>) -> Option<Value> {
            let mut parts: Vec<Value> = Vec::new();
            // One text may come as several, a line each.
            let mut text = String::new();
            for element in &message.elements {
                match element {
                    ast::PatternElement::TextElement { value } => text.push_str(value),
                    ast::PatternElement::Placeable { expression } => {
                        self.add_text(&mut parts, &mut text);
                        match expression {
                            ast::Expression::Inline(ast::InlineExpression::StringLiteral { value }) => {
                                add(&mut parts, &fluent_syntax::unicode::unescape_unicode_to_string(value));
                            }
                            ast::Expression::Inline(ast::InlineExpression::VariableReference { id }) => {
                                parts.push(json!({ "of": id.name }));
                            }
                            ast::Expression::Select { selector, variants } => {
                                let ast::InlineExpression::VariableReference { id } = selector else { return None };
                                parts.push(self.choice(id.name, variants)?);
                            }
                            ast::Expression::Inline(_) => return None,
                        }
                    }
                }
            }
            self.add_text(&mut parts, &mut text);
            Some(match parts.as_slice() {
                [] => Value::from(""),
                [Value::String(_)] => parts.swap_remove(0),
                _ => Value::Array(parts),
            })
        }

        fn choice(&self, by: &str, variants: &[ast::Variant<&str>]) -> Option<Value> {
            let (mut forms, mut default) = (Map::new(), None);
            for variant in variants {
                let (ast::VariantKey::Identifier { name } | ast::VariantKey::NumberLiteral { value: name }) =
                    &variant.key;
                forms.insert((*name).to_owned(), self.pattern(&variant.value)?);
                if variant.default {
                    default = Some(*name);
                }
            }
            Some(json!({ "by": by, "forms": forms, "else": default? }))
        }

        fn add_text(&self, parts: &mut Vec<Value>, text: &mut String) {
            match self.transform {
                Some(transform) => add(parts, &transform(text)),
                None => add(parts, text),
            }
            text.clear();
        }

        fn read(name: &'static str, files: Files, transform: Option<Transform>) -> Self {
            let language = name.parse().unwrap_or(unic_langid::langid!("en"));
            let mut bundle = FluentBundle::new_concurrent(vec![language]);
            // The marks around what is put in would stand in every file and search.
            bundle.set_use_isolating(false);
            bundle.set_transform(transform);
            for (_, text) in [ENGLISH, files].into_iter().flatten() {
                // A file with a fault gives what reads; the tests find faults and doubles.
                let resource = match FluentResource::try_new((*text).to_owned()) {
                    Ok(resource) | Err((resource, _)) => resource,
                };
                bundle.add_resource_overriding(resource);
            }
            let mut catalogue = Self { bundle, style: Style::default(), name, files, transform };
            let bare = |catalogue: &Self, id| {
                let mut words = String::new();
                catalogue.format(id, None, &mut words);
                words
            };
            catalogue.style = Style {
                decimal: bare(&catalogue, "decimal-sign").chars().next().unwrap_or('.'),
                between: format!(" {} ", bare(&catalogue, "range-between")).into(),
                endless: bare(&catalogue, "range-any-amount").into(),
                nothing: bare(&catalogue, "range-nothing").into(),
            };
            catalogue
        }

        fn format(&self, id: &str, arguments: Option<&FluentArgs>, out: &mut String) {
            let Some(pattern) = self.bundle.get_message(id).and_then(|message| message.value()) else {
                debug_assert!(false, "the catalogue has no message {id}");
                out.push_str(id);
                return;
            };
            let mut errors = Vec::new();
            let words = self.bundle.format_pattern(pattern, arguments, &mut errors);
            // Outside of tests what a message lacks shows as its name in braces.
            debug_assert!(errors.is_empty(), "message {id}: {errors:?}");
            if out.is_empty() {
                *out = words.into_owned();
            } else {
                out.push_str(&words);
            }
        }

        /// True where the catalogue has this message.
        #[must_use]
        pub fn has(&self, id: &str) -> bool {
            self.bundle.has_message(id)
        }

        /// Writes a message in this language.
        pub fn write(&self, message: &Message, out: &mut String) {
            for (place, part) in message.parts().iter().enumerate() {
                if place > 0 {
                    out.push(' ');
                }
                if let Some(words) = part.as_plain() {
                    out.push_str(words);
                } else if let Some(id) = part.id() {
                    let mut arguments = part.arguments().peekable();
                    if arguments.peek().is_none() {
                        self.format(id, None, out);
                    } else {
                        let arguments: FluentArgs =
                            arguments.map(|(name, argument)| (name, self.value(argument))).collect();
                        self.format(id, Some(&arguments), out);
                    }
                } else {
                    self.write(part, out);
                }
            }
        }

        fn value<'a>(&self, argument: &'a Argument) -> FluentValue<'a> {
            match argument {
                Argument::Span { span, unit, digits } => {
                    let mut out = String::with_capacity(24);
                    shown::write_span(&mut out, *span, unit, usize::from(*digits), &self.style);
                    out.into()
                }
                Argument::Count(count) => (*count).into(),
                Argument::Choice(name) => FluentValue::from(*name),
                Argument::Name(name) => FluentValue::from(name.as_str()),
                Argument::Message(message) => {
                    if let Some(words) = message.as_plain() {
                        return words.into();
                    }
                    let mut out = String::new();
                    self.write(message, &mut out);
                    out.into()
                }
                Argument::List(messages) => {
                    let mut out = String::new();
                    for (place, message) in messages.iter().enumerate() {
                        if place > 0 {
                            out.push_str("; ");
                        }
                        self.write(message, &mut out);
                    }
                    out.into()
                }
            }
        }
    }

    /// Puts a text behind the parts of a pattern, joined to one that stands there.
    fn add(parts: &mut Vec<Value>, text: &str) {
        match parts.last_mut() {
            _ if text.is_empty() => {}
            Some(Value::String(last)) => last.push_str(text),
            _ => parts.push(text.into()),
        }
    }

    /// A text as the lengthened language has it: bracketed, its Latin letters accented, a third longer.
    fn lengthened(text: &str) -> Cow<'_, str> {
        if !text.chars().any(char::is_alphabetic) {
            return Cow::Borrowed(text);
        }
        let inner = text.trim();
        let start = text.len() - text.trim_start().len();
        let (before, after) = (&text[..start], &text[start + inner.len()..]);
        let mut out = format!("{before}[");
        out.extend(inner.chars().map(accented));
        for place in 0..inner.chars().count() / 3 {
            // In pieces of the length of words, so that a line breaks in it as in words.
            if place > 0 && place % 8 == 0 {
                out.push(' ');
            }
            out.push('~');
        }
        out.push(']');
        out.push_str(after);
        Cow::Owned(out)
    }

    const fn accented(letter: char) -> char {
        const PLAIN: &[u8; 52] = b"abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ";
        const MARKED: [char; 52] = [
            'á', 'ƀ', 'ç', 'ð', 'é', 'ƒ', 'ĝ', 'ĥ', 'í', 'ĵ', 'ķ', 'ĺ', 'ɱ', 'ñ', 'ó', 'þ', 'ɋ', 'ř', 'š', 'ť', 'ú',
            'ṽ', 'ŵ', 'ẋ', 'ý', 'ž', 'Á', 'Ɓ', 'Ç', 'Ð', 'É', 'Ƒ', 'Ĝ', 'Ĥ', 'Í', 'Ĵ', 'Ķ', 'Ĺ', 'Ṁ', 'Ñ', 'Ó', 'Þ',
            'Ǫ', 'Ř', 'Š', 'Ť', 'Ú', 'Ṽ', 'Ŵ', 'Ẋ', 'Ý', 'Ž',
        ];
        let mut place = 0;
        while place < PLAIN.len() {
            if PLAIN[place] as char == letter {
                return MARKED[place];
            }
            place += 1;
        }
        letter
    }

    /// Ids of all messages.
    #[cfg(test)]
    pub(crate) fn ids() -> Vec<String> {
        let lines = ENGLISH.iter().flat_map(|(_, text)| text.lines());
        let ids = lines.filter(|line| line.starts_with(|letter: char| letter.is_ascii_alphabetic()));
        ids.filter_map(|line| line.split_once(" =")).map(|(id, _)| id.to_owned()).collect()
    }

    #[cfg(test)]
    mod tests {
        use fluent_syntax::ast::Entry;

        use super::*;
        use crate::range::Span;
        use crate::say;

        #[test]
        fn every_file_reads_and_no_message_stands_twice() {
            let mut seen: BTreeMap<String, &str> = BTreeMap::new();
            for (file, text) in ENGLISH {
                let parsed = fluent_syntax::parser::parse(*text).unwrap_or_else(|(_, faults)| {
                    panic!("{file}: {faults:?}");
                });
                for entry in parsed.body {
                    let name = match entry {
                        Entry::Message(message) => message.id.name.to_owned(),
                        Entry::Term(term) => format!("-{}", term.id.name),
                        Entry::Junk { content } => panic!("{file}: {content}"),
                        _ => continue,
                    };
                    if let Some(before) = seen.insert(name.clone(), file) {
                        panic!("{name} stands in {before} and in {file}");
                    }
                }
            }
        }

        #[test]
        fn every_message_of_the_interface_is_a_pattern() {
            let patterns = Catalogue::english().patterns();
            for domain in OF_THE_INTERFACE {
                let (_, text) = ENGLISH.iter().find(|(file, _)| file == domain).expect("a file of the domain");
                for entry in fluent_syntax::parser::parse(*text).expect("the file reads").body {
                    if let Entry::Message(message) = entry {
                        let pattern = patterns.get(message.id.name);
                        assert!(pattern.is_some(), "{domain}: {}", message.id.name);
                    }
                }
            }
            assert!(!patterns.contains_key("caution-work"), "only what the interface needs");
        }

        #[test]
        fn another_language_has_its_own_numbers_and_says_in_english_what_it_lacks() {
            const DUTCH: Files = &[
                ("general", "decimal-sign = {\",\"}\nrange-between = tot\n"),
                ("interface", "ui-undo = Ongedaan maken\n"),
            ];
            static CATALOGUE: LazyLock<Catalogue> = LazyLock::new(|| Catalogue::read("nl", DUTCH, None));
            let told = say!("input-value", value = (Span { lo: 1.5, hi: 2.0 }, "A"));
            assert_eq!(speaking(&CATALOGUE, || told.to_string()), "1,5 tot 2\u{a0}A");
            assert_eq!(speaking(&CATALOGUE, || say!("not-known").to_string()), "not known");
            let patterns = CATALOGUE.patterns();
            let english = Catalogue::english().patterns();
            assert_eq!((&patterns["ui-undo"], &patterns["ui-redo"]), (&json!("Ongedaan maken"), &english["ui-redo"]));
            assert_eq!((CATALOGUE.name(), CATALOGUE.decimal(), patterns.len()), ("nl", ',', english.len()));
        }

        fn pattern_of(catalogue: &Catalogue, text: &str) -> Option<Value> {
            let resource = fluent_syntax::parser::parse(text).expect("a message");
            let Entry::Message(message) = &resource.body[0] else { panic!("{text}") };
            catalogue.pattern(message.value.as_ref().expect("a value"))
        }

        #[test]
        fn a_pattern_is_texts_names_and_choices() {
            let english = |text| pattern_of(Catalogue::english(), text);
            assert_eq!(english("a = Try again"), Some(json!("Try again")));
            assert_eq!(english("a = One line\n    and the next"), Some(json!("One line\nand the next")));
            assert_eq!(english("a = {\"\"}[x]{\" \"}"), Some(json!("[x] ")));
            assert_eq!(english("a = \"{ $name }\" now"), Some(json!(["\"", { "of": "name" }, "\" now"])));
            let choice = "a = { $count ->\n    [0] none\n    [one] one entry\n   *[other] { $count } entries\n }.";
            let forms = json!({ "0": "none", "one": "one entry", "other": [{ "of": "count" }, " entries"] });
            assert_eq!(english(choice), Some(json!([{ "by": "count", "forms": forms, "else": "other" }, "."])));
            for other in ["a = { b }", "a = { -b }", "a = { NUMBER($x) }", "a = { NUMBER($x) ->\n   *[other] x\n }"] {
                assert_eq!(english(other), None, "{other}");
            }
            let long = |text| pattern_of(Catalogue::lengthened(), text);
            assert_eq!(long("a = Try { $name }"), Some(json!(["[Ťřý~] ", { "of": "name" }])));
            let forms =
                json!({ "0": "[ñóñé~]", "one": "[óñé éñťřý~~~]", "other": [{ "of": "count" }, " [éñťříéš~~]"] });
            assert_eq!(long(choice), Some(json!([{ "by": "count", "forms": forms, "else": "other" }, "."])));
        }

        #[test]
        fn a_message_is_equal_by_what_it_says_and_lengthened_in_brackets() {
            let range = Span { lo: 18.04, hi: 21.74 };
            let message = say!("not-settled-for-want-of", what = vec![Message::plain("length"), "size".into()]);
            assert_eq!(message.to_string(), "Not settled, for want of: length; size.");
            assert_ne!(message, say!("not-settled-for-want-of", what = vec![Message::plain("length")]));
            let strange = speaking(Catalogue::lengthened(), || message.to_string());
            assert!(strange.starts_with("[Ñóť šéťťĺéð") && strange.contains("length; size"), "{strange}");
            assert_eq!(message.to_string(), "Not settled, for want of: length; size.");
            let span = Argument::span(range, "A");
            let shown = Message::said("input-value", [("value", span)]);
            assert_eq!(shown.to_string(), "18 to 21.7\u{a0}A");
            let strange = speaking(Catalogue::lengthened(), || shown.to_string());
            assert_eq!(strange, "18 [ťó] 21.7\u{a0}A");
        }
    }
}
