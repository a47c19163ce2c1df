//! A surveyed value: the value and how it is known, edited together.

use leptos::either::Either;
use leptos::prelude::*;
use serde_json::Value;
use survey::Field;
use survey::field::Section;
use survey::ids::BoardId;
use survey::intent::Intent;

use super::conflict::Conflicts;
use super::field::{KNOWN, Kind, known_words};
use crate::state::{App, Draft, app, field_on_screen, of_an_edit, problem_words};
use crate::words::{maybe, t, tr};

/// Handles of one field: what is stored, what is typed, how it is saved.
#[derive(Clone, Copy)]
pub struct Slot {
    app: App,
    board: Option<BoardId>,
    path: StoredValue<String>,
    kind: StoredValue<Kind>,
    surveyed: bool,
    /// What the field shows: typed text, else the stored value.
    pub now: Memo<Draft>,
    stored: Memo<Draft>,
}

impl Slot {
    /// A field at a path of the open board.
    pub fn new(path: String, kind: Kind, surveyed: bool) -> Self {
        let app = app();
        let board = app.board();
        let path = StoredValue::new(path);
        let kind = StoredValue::new(kind);
        let stored = Memo::new(move |_| {
            app.at(&path.get_value(), |value| {
                kind.with_value(|kind| if surveyed { Draft::surveyed(value, kind) } else { Draft::plain(value, kind) })
            })
        });
        let now = Memo::new(move |_| {
            let typed =
                board.and_then(|board| app.drafts.with(|drafts| drafts.get(&(board, path.get_value())).cloned()));
            typed.unwrap_or_else(|| stored.get())
        });
        Self { app, board, path, kind, surveyed, now, stored }
    }

    /// Notes what is being typed; nothing is sent yet.
    pub fn draft(self, change: impl FnOnce(&mut Draft)) {
        let Some(board) = self.board else { return };
        let mut draft = self.now.get_untracked();
        change(&mut draft);
        draft.error = None;
        self.app.drafts.update(|drafts| {
            drafts.insert((board, self.path.get_value()), draft);
        });
    }

    /// Saves what was typed, if it is whole and differs from what is stored.
    pub fn commit(self) {
        let Some(board) = self.board else { return };
        let key = (board, self.path.get_value());
        let Some(mut draft) = self.app.drafts.with_untracked(|drafts| drafts.get(&key).cloned()) else { return };
        draft.error = None;
        let kind = self.kind.get_value();
        let value = if self.surveyed {
            if draft.is_empty() && !self.stored.get_untracked().is_empty() {
                draft.known = "unknown".to_owned();
            }
            if !draft.is_whole() {
                return;
            }
            draft.to_value(&kind)
        } else if draft.text.trim().is_empty() && kind != Kind::Text {
            Value::Null
        } else {
            kind.typed(&draft.text)
        };
        if draft == self.stored.get_untracked() {
            self.app.drafts.update(|drafts| {
                drafts.remove(&key);
            });
            return;
        }
        self.send(key, draft, value);
    }

    fn send(self, key: (BoardId, String), draft: Draft, value: Value) {
        let app = self.app;
        app.drafts.update(|drafts| {
            drafts.insert(key.clone(), draft.clone());
        });
        app.edit_then(Intent::Set { path: key.1.clone(), value }, move |result| {
            app.drafts.update(|drafts| {
                // What was typed while the save ran stays.
                if drafts.get(&key) != Some(&draft) {
                    return;
                }
                match result {
                    Ok(_) => drop(drafts.remove(&key)),
                    Err(error) => {
                        if field_on_screen(&key.1) {
                            // The field itself says why: no second message over it.
                            app.alert.set(None);
                        }
                        let words = error.problems.first().map_or_else(|| error.message.clone(), problem_words);
                        let words = format!("{} {words}", of_an_edit(error));
                        drafts.insert(key, Draft { error: Some(words), ..draft });
                    }
                }
            });
        });
    }

    /// Gives up what was typed.
    pub fn forget(self) {
        let Some(board) = self.board else { return };
        self.app.drafts.update(|drafts| {
            drafts.remove(&(board, self.path.get_value()));
        });
    }

    /// A value waits for somebody to say how it is known.
    fn unsaid(self) -> bool {
        self.surveyed && self.now.with(Draft::is_unsaid)
    }

    /// Chooses how the value is known; taking it to be unknown empties the field.
    fn choose(self, known: &str) {
        self.draft(|draft| {
            known.clone_into(&mut draft.known);
            if known == "unknown" {
                draft.text.clear();
                draft.low.clear();
                draft.high.clear();
                draft.two = false;
            }
        });
        self.commit();
    }

    /// The doubts about this field.
    fn doubts(self) -> Vec<String> {
        let path = self.path.get_value();
        self.app
            .of_view(|view| {
                let inside = |other: &str| {
                    other.strip_prefix(path.as_str()).is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
                };
                view.problems.iter().filter(|problem| inside(&problem.path)).map(problem_words).collect()
            })
            .unwrap_or_default()
    }
}

/// Id of an element made from a path.
pub fn element_id(path: &str) -> String {
    path.trim_start_matches('/').replace('/', "-")
}

/// Saves on Enter and keeps the cursor where it is; Escape gives up what was typed.
pub fn keys(slot: Slot) -> impl Fn(web_sys::KeyboardEvent) + Copy {
    move |event| match event.key().as_str() {
        "Enter" => slot.commit(),
        "Escape" => slot.forget(),
        _ => {}
    }
}

/// What became of a field: the reason it could not be saved, and doubts about it.
#[component]
pub fn Outcome(of: Slot, id: String) -> impl IntoView {
    let slot = of;
    let doubts = Memo::new(move |_| slot.doubts());
    let path = slot.path.get_value();
    let error = move || slot.now.with(|now| now.error.clone());
    view! {
        <div id=format!("{id}-said")>
            {move || {
                error()
                    .map(|error| {
                        view! {
                            <div class="said bad" role="alert">
                                <p>{error}</p>
                                <div class="row">
                                    <button type="button" on:click=move |_| slot.commit()>{t("ui-try-again")}</button>
                                    <button type="button" on:click=move |_| slot.forget()>{t("ui-field-put-back")}</button>
                                </div>
                            </div>
                        }
                    })
            }}
            {move || {
                doubts
                    .get()
                    .into_iter()
                    .map(|doubt| view! { <p class="said doubt"><strong>{t("ui-field-look-again")}</strong>{doubt}</p> })
                    .collect_view()
            }}
        </div>
        <Conflicts path=path />
    }
}

/// The fields of a section of a record, in their places. One is shown where it applies, where nobody knows whether it
/// does, and where something stands in it.
pub fn rows(base: &str, fields: &'static [Field], section: Section) -> AnyView {
    let app = app();
    let mut shown: Vec<&'static Field> = fields.iter().filter(|field| field.section == section).collect();
    shown.sort_by_key(|field| field.place);
    shown
        .into_iter()
        .map(|field| {
            let path = format!("{base}/{}", field.name);
            let Some(when) = field.when else { return surveyed(field, path) };
            // Load and readings lie within the circuit that says what they are of.
            let around = if fields.iter().any(|other| other.name == when.field) {
                base
            } else {
                base.rsplit_once('/').map_or(base, |(around, _)| around)
            };
            let (own, other) = (path.clone(), format!("{around}/{}", when.field));
            let applies = Memo::new(move |_| {
                let filled = app.at(&own, |value| value["value"] != Value::Null || value["between"] != Value::Null);
                let may = |value: &Value| {
                    let key = value.as_str().or(value["value"].as_str());
                    key.is_none_or(|key| key.is_empty() || when.keys.contains(&key))
                };
                filled || app.at(&other, may)
            });
            view! { <div hidden=move || !applies.get()>{surveyed(field, path)}</div> }.into_any()
        })
        .collect_view()
        .into_any()
}

/// One surveyed value of the catalogue. `path` is its place in the board.
pub fn surveyed(field: &'static Field, path: String) -> AnyView {
    let sub_board = untrack(|| app().at("/supply/cable", Value::is_string));
    let (label, hint, kind) = (t(field.label_on(sub_board)), maybe(field.hint), Kind::of(field));
    let slot = Slot::new(path.clone(), kind.clone(), true);
    let id = element_id(&path);
    let open = RwSignal::new(false);
    let input = value_input(slot, &kind, &path, &id, label, hint);
    let words =
        move || if slot.unsaid() { t("ui-field-not-said") } else { slot.now.with(|now| known_words(&now.known)) };
    let shown = Memo::new(move |_| open.get() || slot.unsaid());
    let unsaved = move || {
        let (now, stored) = (slot.now.get(), slot.stored.get());
        now != stored && now.error.is_none()
    };
    let unit = kind.unit();
    let said = move || {
        let origin = slot.now.with(|now| origin(now, unit));
        let space = if origin.is_empty() { "" } else { " " };
        format!("{origin}{space}{}", stamp(slot))
    };
    let panel_id = format!("{id}-known");
    let ranged = matches!(kind, Kind::Quantity { .. });
    let controls = panel_id.clone();
    let panel_path = path.clone();
    view! {
        <div class="field" data-surveyed=path.clone()>
            <label class="name" for=id.clone()>{label}</label>
            <div class="row nowrap">
                {input}
                <button
                    type="button"
                    class="how"
                    data-known=move || slot.now.with(|now| now.known.clone())
                    aria-expanded=move || shown.get().to_string()
                    aria-controls=controls
                    aria-label=move || tr("ui-field-change-how", &[("field", label.into()), ("known", words().into())])
                    on:click=move |_| open.update(|open| *open = !*open)
                >
                    <span>{words}</span>
                    <span aria-hidden="true">{move || if shown.get() { "▴" } else { "▾" }}</span>
                </button>
            </div>
            {(!hint.is_empty()).then(|| view! { <p class="hint" id=format!("{id}-hint")>{hint}</p> })}
            <div id=panel_id class="known" hidden=move || !shown.get()>
                {move || shown.get().then(|| known_panel(slot, &panel_path, label, ranged))}
            </div>
            <p class="origin">{said}</p>
            {move || {
                let words = if slot.unsaid() { t("ui-field-say-how") } else { t("ui-field-unsaved") };
                unsaved().then(|| view! { <p class="hint" data-unsaved="">{words}</p> })
            }}
            <Outcome of=slot id=id.clone() />
        </div>
    }
    .into_any()
}

/// The part of the provenance that the button does not say.
fn origin(now: &Draft, unit: &str) -> String {
    let message = match now.known.as_str() {
        "measured" => match (now.instrument.is_empty(), now.tolerance.is_empty()) {
            (true, true) => return String::new(),
            (false, true) => "ui-field-with",
            (true, false) => "ui-field-tolerance",
            (false, false) => "ui-field-with-tolerance",
        },
        "stated" if !now.by.is_empty() => "ui-field-by",
        "assumed" if !now.rule.is_empty() => "ui-field-by-rule",
        _ => return String::new(),
    };
    let tolerance = format!("{} {unit}", now.tolerance);
    tr(
        message,
        &[
            ("instrument", now.instrument.as_str().into()),
            ("tolerance", tolerance.trim_end().into()),
            ("by", now.by.as_str().into()),
            ("rule", now.rule.as_str().into()),
        ],
    )
}

/// Who entered the stored value, and on what day.
fn stamp(slot: Slot) -> String {
    slot.app.at(&slot.path.get_value(), |value| {
        let role = value["role"].as_str().unwrap_or_default();
        let day = value["at"].as_str().and_then(|at| at.get(..10)).unwrap_or_default();
        let message = match (role, day) {
            ("", "") => return String::new(),
            ("", _) => "ui-field-entered-on",
            (_, "") => "ui-field-entered-by",
            _ => "ui-field-entered-by-on",
        };
        tr(message, &[("role", role.into()), ("day", day.into())])
    })
}

fn described(id: &str, hint: &str) -> String {
    if hint.is_empty() { format!("{id}-said") } else { format!("{id}-hint {id}-said") }
}

fn value_input(slot: Slot, kind: &Kind, path: &str, id: &str, label: &'static str, hint: &str) -> AnyView {
    let (path, id) = (path.to_owned(), id.to_owned());
    let invalid = move || slot.now.with(|now| now.error.is_some()).to_string();
    let described = described(&id, hint);
    match kind {
        Kind::Choice(list) => {
            let list = list.clone();
            view! {
                <select
                    id=id
                    data-field=path
                    aria-describedby=described
                    aria-invalid=invalid
                    prop:value=move || slot.now.with(|now| now.text.clone())
                    on:change=move |event| {
                        let key = event_target_value(&event);
                        if key.is_empty() {
                            slot.choose("unknown");
                        } else {
                            slot.draft(|draft| draft.text = key);
                            slot.commit();
                        }
                    }
                >
                    {options(slot, &list, t("ui-not-known"))}
                </select>
            }
            .into_any()
        }
        _ => {
            let unit = kind.unit();
            let mode = if matches!(kind, Kind::Count) { "numeric" } else { "decimal" };
            let press = keys(slot);
            let two = Memo::new(move |_| slot.now.with(|now| now.two));
            view! {
                <div class="number">
                    {move || {
                        if two.get() {
                            Either::Left(
                                view! {
                                    <input
                                        id=id.clone()
                                        data-field=path.clone()
                                        inputmode=mode
                                        autocomplete="off"
                                        aria-label=tr("ui-field-least", &[("field", label.into())])
                                        aria-describedby=described.clone()
                                        aria-invalid=invalid
                                        prop:value=move || slot.now.with(|now| now.low.clone())
                                        on:input=move |event| slot.draft(|draft| draft.low = event_target_value(&event))
                                        on:change=move |_| slot.commit()
                                        on:keydown=press
                                    />
                                    <span>{t("ui-field-to")}</span>
                                    <input
                                        data-field=format!("{path}/high")
                                        inputmode=mode
                                        autocomplete="off"
                                        aria-label=tr("ui-field-most", &[("field", label.into())])
                                        aria-describedby=described.clone()
                                        aria-invalid=invalid
                                        prop:value=move || slot.now.with(|now| now.high.clone())
                                        on:input=move |event| slot.draft(|draft| draft.high = event_target_value(&event))
                                        on:change=move |_| slot.commit()
                                        on:keydown=press
                                    />
                                },
                            )
                        } else {
                            Either::Right(
                                view! {
                                    <input
                                        id=id.clone()
                                        data-field=path.clone()
                                        inputmode=mode
                                        autocomplete="off"
                                        placeholder=t("ui-not-known")
                                        aria-describedby=described.clone()
                                        aria-invalid=invalid
                                        prop:value=move || slot.now.with(|now| now.text.clone())
                                        on:input=move |event| slot.draft(|draft| draft.text = event_target_value(&event))
                                        on:change=move |_| slot.commit()
                                        on:keydown=press
                                    />
                                },
                            )
                        }
                    }} <span class="unit">{unit}</span>
                </div>
            }
            .into_any()
        }
    }
}

/// The choices of a field as options; a stored word that is none of them is kept in the list.
pub fn options(slot: Slot, list: &[(&'static str, &'static str)], none: &'static str) -> AnyView {
    let rows = list
        .iter()
        .map(|&(key, words)| {
            view! { <option value=key selected=move || slot.now.with(|now| now.text == key)>{words}</option> }
        })
        .collect_view();
    view! {
        <option value="" selected=move || slot.now.with(|now| now.text.is_empty())>{none}</option>
        {rows}
    }
    .into_any()
}

fn known_panel(slot: Slot, path: &str, label: &'static str, ranged: bool) -> AnyView {
    let name = format!("known{path}");
    // None is picked beforehand for a value that is new.
    let known = Memo::new(move |_| if slot.unsaid() { String::new() } else { slot.now.with(|now| now.known.clone()) });
    let chips = KNOWN
        .iter()
        .map(|&(key, _)| {
            view! {
                <label class="chip">
                    <input
                        type="radio"
                        name=name.clone()
                        value=key
                        data-choose=key
                        prop:checked=move || known.with(|known| known == key)
                        on:change=move |_| slot.choose(key)
                    />
                    <span>{known_words(key)}</span>
                </label>
            }
        })
        .collect_view();
    let extra = move || match known.get().as_str() {
        "measured" => {
            let tolerance = ranged.then(|| {
                detail(
                    slot,
                    "tolerance",
                    t("ui-field-tolerance-of"),
                    slot.kind.with_value(Kind::unit),
                    |now| &now.tolerance,
                    |draft, text| draft.tolerance = text,
                )
            });
            let instrument = detail(
                slot,
                "instrument",
                t("ui-field-instrument"),
                "",
                |now| &now.instrument,
                |draft, text| draft.instrument = text,
            );
            view! { <div class="row">{instrument} {tolerance}</div> }.into_any()
        }
        "stated" => detail(slot, "by", t("ui-field-stated-by"), "", |now| &now.by, |draft, text| draft.by = text),
        "assumed" => detail(slot, "rule", t("ui-field-rule"), "", |now| &now.rule, |draft, text| draft.rule = text),
        _ => ().into_any(),
    };
    let two = move || slot.now.with(|now| now.two);
    view! {
        <fieldset>
            <legend>{tr("ui-field-how", &[("field", label.into())])}</legend>
            <div class="row">{chips}</div>
            {extra}
            {ranged
                .then(|| {
                    view! {
                        <label class="chip">
                            <input
                                type="checkbox"
                                data-two=""
                                prop:checked=two
                                on:change=move |event| {
                                    let on = event_target_checked(&event);
                                    slot.draft(|draft| {
                                        draft.two = on;
                                        if on && draft.low.is_empty() {
                                            draft.low.clone_from(&draft.text);
                                        } else if !on && draft.text.is_empty() {
                                            draft.text.clone_from(&draft.low);
                                        }
                                    });
                                    if !on {
                                        slot.commit();
                                    }
                                }
                            />
                            <span>{t("ui-field-two")}</span>
                        </label>
                    }
                })}
        </fieldset>
    }
    .into_any()
}

fn detail(
    slot: Slot,
    key: &'static str,
    label: &'static str,
    unit: &'static str,
    get: fn(&Draft) -> &String,
    set: fn(&mut Draft, String),
) -> AnyView {
    view! {
        <label class="detail">
            <span>{label}</span>
            <span class="number">
                <input
                    data-detail=key
                    autocomplete="off"
                    prop:value=move || slot.now.with(|now| get(now).clone())
                    on:input=move |event| slot.draft(|draft| set(draft, event_target_value(&event)))
                    on:change=move |_| slot.commit()
                    on:keydown=keys(slot)
                />
                <span class="unit">{unit}</span>
            </span>
        </label>
    }
    .into_any()
}
