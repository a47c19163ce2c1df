//! Slots between holes of a plate: where single cores of one circuit pass a steel plate by holes of their own.

use leptos::prelude::*;
use serde_json::{Value, json};
use survey::Millimetres;
use survey::ids::PlateId;

use super::field::quantity;
use crate::sheet::live;
use crate::state::app;
use crate::words::{t, tr};

/// Width offered for a new slot, in millimetres: a saw's cut (common practice, no source).
const USUAL_WIDTH: &str = "2";

/// The slots of a plate, each to be removed, and a new one.
#[component]
pub fn Slots(plate: PlateId) -> impl IntoView {
    let app = app();
    let entries = Memo::new(move |_| {
        let entries = app.of_view(|view| view.plates.iter().find(|one| one.id == plate).map(|one| one.entries.clone()));
        let placed = entries.flatten().unwrap_or_default().into_iter().filter(|entry| entry.at.is_some());
        placed.map(|entry| (entry.id.to_string(), entry.name)).collect::<Vec<_>>()
    });
    let ends = [RwSignal::new(String::new()), RwSignal::new(String::new())];
    let width = RwSignal::new(USUAL_WIDTH.to_owned());
    let pick = move |index: usize, name: &'static str, label: &'static str| {
        let options = move || {
            let options = entries.get().into_iter().map(|(id, name)| view! { <option value=id>{name}</option> });
            options.collect_view()
        };
        view! {
            <div class="field">
                <label class="name" for=name>{label}</label>
                <select id=name data-slot=name on:change=move |event| ends[index].set(event_target_value(&event))>
                    <option value="">{t("ui-slots-pick")}</option>
                    {options}
                </select>
            </div>
        }
    };
    let add = move |_| {
        let [from, to] = ends.map(|end| end.get_untracked());
        let width = quantity::<Millimetres>("mm").typed(&width.get_untracked());
        let intent = json!({ "add_slot": { "plate": plate, "from": from, "to": to, "width": width } });
        app.edit_ready(intent, |_| ());
    };
    let list = move || {
        let path = format!("/plates/{plate}");
        let slots: Vec<(String, [String; 2], String)> = app.at(&path, |plate| {
            let end = |slot: &Value, key: &str| slot[key].as_str().unwrap_or_default().to_owned();
            live(plate, "slots")
                .map(|(id, slot)| {
                    let width = slot["width"]["value"].as_str().unwrap_or_else(|| t("ui-slots-no-width")).to_owned();
                    (id.to_owned(), [end(slot, "from"), end(slot, "to")], width)
                })
                .collect()
        });
        let name = move |id: &str| {
            let found = entries.with(|all| all.iter().find(|(one, _)| one == id).map(|(_, name)| name.clone()));
            found.unwrap_or_else(|| t("ui-slots-removed").to_owned())
        };
        slots
            .into_iter()
            .map(|(id, [from, to], width)| {
                let ends = [("from", name(&from).into()), ("to", name(&to).into()), ("width", width.into())];
                let words = tr("ui-slots-slot", &ends);
                view! {
                    <li class="row spread">
                        <span>{words}</span>
                        <button
                            type="button"
                            aria-label=tr("ui-slots-remove", &ends)
                            on:click=move |_| app.set(format!("/plates/{plate}/slots/{id}/removed"), json!(true))
                        >
                            {t("ui-remove")}
                        </button>
                    </li>
                }
            })
            .collect_view()
    };
    view! {
        <details data-open="slots">
            <summary>{t("ui-slots")}</summary>
            <p class="hint">
                {t("ui-slots-why")}
            </p>
            <ul class="plain-list">{list}</ul>
            {pick(0, "slot-from", t("ui-slots-from"))}
            {pick(1, "slot-to", t("ui-slots-to"))}
            <div class="field">
                <label class="name" for="slot-width">{t("ui-slots-width")}</label>
                <input
                    id="slot-width"
                    inputmode="decimal"
                    autocomplete="off"
                    data-slot="width"
                    prop:value=move || width.get()
                    on:input=move |event| width.set(event_target_value(&event))
                />
            </div>
            <button type="button" data-slot="add" on:click=add>{t("ui-slots-cut")}</button>
        </details>
    }
    .into_any()
}
