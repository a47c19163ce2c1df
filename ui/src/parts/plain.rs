//! Fields that carry no provenance: words, choices and switches.

use leptos::prelude::*;
use serde_json::{Value, json};
use survey::field;

use super::field::Kind;
use super::surveyed::{Outcome, Slot, element_id, keys, options};
use crate::state::app;
use crate::words::{label_at, maybe, t};

/// A word or number saved when the field is left.
#[component]
pub fn TextField(
    /// JSON pointer into the board.
    path: String,
) -> impl IntoView {
    let field = field::at(&path);
    let (kind, hint) = (field.map_or(Kind::Text, Kind::of), field.map_or("", |field| maybe(field.hint)));
    let label = label_at(&path);
    let unit = kind.unit();
    let mode = if kind == Kind::Text { "text" } else { "decimal" };
    let slot = Slot::new(path.clone(), kind, false);
    let id = element_id(&path);
    view! {
        <div class="field">
            <label class="name" for=id.clone()>{label}</label>
            <div class="number">
                <input
                    id=id.clone()
                    data-field=path.clone()
                    inputmode=mode
                    autocomplete="off"
                    aria-describedby=format!("{id}-said")
                    aria-invalid=move || slot.now.with(|now| now.error.is_some()).to_string()
                    prop:value=move || slot.now.with(|now| now.text.clone())
                    on:input=move |event| slot.draft(|draft| draft.text = event_target_value(&event))
                    on:change=move |_| slot.commit()
                    on:keydown=keys(slot)
                />
                <span class="unit">{unit}</span>
            </div>
            {(!hint.is_empty()).then(|| view! { <p class="hint">{hint}</p> })}
            <Outcome of=slot id=id.clone() />
        </div>
    }
    .into_any()
}

/// One of several, saved as it is picked.
#[component]
pub fn ChoiceField(
    /// JSON pointer into the board.
    path: String,
) -> impl IntoView {
    let (label, kind) = (label_at(&path), field::at(&path).map_or(Kind::Text, Kind::of));
    let list = match &kind {
        Kind::Choice(list) => list.clone(),
        _ => Vec::new(),
    };
    let slot = Slot::new(path.clone(), kind, false);
    let id = element_id(&path);
    view! {
        <div class="field">
            <label class="name" for=id.clone()>{label}</label>
            <select
                id=id.clone()
                data-field=path.clone()
                aria-describedby=format!("{id}-said")
                aria-invalid=move || slot.now.with(|now| now.error.is_some()).to_string()
                prop:value=move || slot.now.with(|now| now.text.clone())
                on:change=move |event| {
                    slot.draft(|draft| draft.text = event_target_value(&event));
                    slot.commit();
                }
            >
                {options(slot, &list, t("ui-not-known"))}
            </select>
            <Outcome of=slot id=id.clone() />
        </div>
    }
    .into_any()
}

/// Yes or no, saved as it is switched.
#[component]
pub fn SwitchField(
    /// JSON pointer into the board.
    path: String,
) -> impl IntoView {
    let app = app();
    let label = label_at(&path);
    let at = path.clone();
    let on = Memo::new(move |_| app.at(&at, |value| *value == true));
    let field = path.clone();
    view! {
        <label class="chip wide">
            <input
                type="checkbox"
                data-field=field
                prop:checked=move || on.get()
                on:change=move |event| app.set(path.clone(), json!(event_target_checked(&event)))
            />
            <span>{label}</span>
        </label>
    }
    .into_any()
}

/// A choice whose list is only known now: pairs of value and words; saved as it is picked.
#[component]
pub fn PickField(
    /// JSON pointer into the board.
    path: String,
    /// Values with their words.
    list: Signal<Vec<(Value, String)>>,
) -> impl IntoView {
    let app = app();
    let label = label_at(&path);
    let id = element_id(&path);
    let at = path.clone();
    let stored = Memo::new(move |_| app.at(&at, Value::clone));
    let field = path.clone();
    view! {
        <div class="field">
            <label class="name" for=id.clone()>{label}</label>
            <select
                id=id
                data-field=field
                on:change=move |event| {
                    let index = event_target_value(&event).parse::<usize>().unwrap_or_default();
                    let value = list.with_untracked(|list| list.get(index).map(|(value, _)| value.clone()));
                    if let Some(value) = value {
                        app.set(path.clone(), value);
                    }
                }
            >
                {move || {
                    let stored = stored.get();
                    list.get()
                        .into_iter()
                        .enumerate()
                        .map(|(index, (value, words))| {
                            view! { <option value=index.to_string() selected=value == stored>{words}</option> }
                        })
                        .collect_view()
                }}
            </select>
        </div>
    }
    .into_any()
}
