//! A plate measured on a photo: four corners tapped, holes found, each confirmed before it is taken over.

use api::Blob;
use leptos::prelude::*;
use serde_json::{Value, json};
use survey::ids::{EntryId, PhotoId, PlateId};
use survey::pattern::Point;

use crate::files;
use crate::parts::plate_drawing::PlateDrawing;
use crate::sheet::{each, word, words};
use crate::state::app;
use crate::words::{t, tr, yes};

/// What asks for the corners, in the order they are tapped.
const CORNERS: [&str; 4] =
    ["ui-measure-left-rear", "ui-measure-right-rear", "ui-measure-right-front", "ui-measure-left-front"];

/// What is tapped on the photo while a plate is measured.
#[derive(Clone, Copy)]
pub struct Taps {
    /// Taps count for measuring, not for marks.
    pub on: RwSignal<bool>,
    /// Corners so far, as shares of the photo.
    pub corners: RwSignal<Vec<Point>>,
    /// Holes tapped by hand.
    pub holes: RwSignal<Vec<Point>>,
}

impl Taps {
    /// Nothing tapped yet.
    pub fn new() -> Self {
        Self { on: RwSignal::new(false), corners: RwSignal::new(Vec::new()), holes: RwSignal::new(Vec::new()) }
    }

    /// Takes a tap.
    pub fn take(self, at: Point) {
        if self.corners.with_untracked(|corners| corners.len() < CORNERS.len()) {
            self.corners.update(|corners| corners.push(at));
        } else {
            self.holes.update(|holes| holes.push(at));
        }
    }

    /// The taps drawn on the photo.
    pub fn drawn(self, width: f64, height: f64) -> AnyView {
        let size = width.max(height) / 60.0;
        let cross = move |[x, y]: Point| {
            let (x, y) = (x * width, y * height);
            let path = format!("M{} {y}H{}M{x} {}V{}", x - size, x + size, y - size, y + size);
            view! {
                <path class="under" d=path.clone() stroke-width=size / 3.0></path>
                <path class="over" d=path stroke-width=size / 6.0></path>
            }
        };
        view! {
            <g class="mark-shape" data-taps="">
                {self.corners.get().into_iter().map(cross).collect_view()}
                {self.holes.get().into_iter().map(cross).collect_view()}
            </g>
        }
        .into_any()
    }
}

/// Measures a plate on this photo.
#[component]
pub fn Measure(photo: PhotoId, taps: Taps) -> impl IntoView {
    let app = app();
    let plates = Memo::new(move |_| {
        app.of_view(|view| view.plates.iter().map(|plate| (plate.id, plate.name.clone())).collect::<Vec<_>>())
            .unwrap_or_default()
    });
    let pinned = app.at(&format!("/photos/{photo}/pinned"), |id| id.as_str().and_then(|id| id.parse::<PlateId>().ok()));
    let plate = RwSignal::new(pinned);
    let plate_id = move || plate.get().or_else(|| plates.with(|plates| plates.first().map(|(id, _)| *id)));
    let check_line = RwSignal::new(String::new());
    let found: RwSignal<Option<Value>> = RwSignal::new(None);
    let asked = move || match taps.corners.with(Vec::len) {
        count if count < CORNERS.len() => t(CORNERS[count]),
        _ => t("ui-measure-now"),
    };
    let ready = move || taps.corners.with(Vec::len) == CORNERS.len();
    let again = move |_| {
        taps.corners.set(Vec::new());
        taps.holes.set(Vec::new());
        found.set(None);
    };
    let ask = move |_| {
        let corners: Result<[Point; 4], _> = taps.corners.get_untracked().try_into();
        let (Some(board), Some(plate), Ok(corners)) = (app.board(), untrack(plate_id), corners) else { return };
        let line = check_line.get_untracked();
        let check_line = match super::field::number(&line, "mm") {
            Some(line) => Some(line),
            None if line.trim().is_empty() => None,
            None => {
                let error = api::ApiError::failed(t("ui-measure-line-wrong"));
                return app.warn(t("ui-measure-not"), &error);
            }
        };
        app.say(t("ui-measure-under-way"));
        let request = api::MeasurePhoto { board, plate, photo, corners, check_line, taps: taps.holes.get_untracked() };
        app.ask_json(request, move |reply| drop(found.try_set(Some(reply))));
    };
    let shown = move || {
        let (plate, reply) = (plate_id()?, found.get()?);
        let number = |value: &Value| value.as_f64().unwrap_or_default();
        let (width, depth) = (number(&reply["size"][0]), number(&reply["size"][1]));
        let picture = Blob { media: word(&reply["picture"], "media"), base64: word(&reply["picture"], "base64") };
        let rings = each(&reply, "holes")
            .map(|hole| {
                let across = hole["length"].as_f64().unwrap_or_else(|| number(&hole["diameter"]));
                view! { <circle cx=number(&hole["at"][0]) cy=number(&hole["at"][1]) r=across / 2.0 class="ring"></circle> }
            })
            .collect_view();
        let sure = |hole: &Value| hole["sure"] == true;
        let wanted: Vec<(RwSignal<bool>, Value)> =
            each(&reply, "holes").map(|hole| (RwSignal::new(sure(hole)), hole["take"].clone())).collect();
        let rows = each(&reply, "holes")
            .zip(&wanted)
            .map(|(hole, (take, _))| {
                let take = *take;
                let doubts = words(hole, "doubts").join("; ");
                let doubt = match (doubts.is_empty(), sure(hole)) {
                    (false, _) => "doubts",
                    (true, true) => "none",
                    (true, false) => "unsure",
                };
                let said = tr(
                    "ui-measure-hole",
                    &[
                        ("hole", word(hole, "words").into()),
                        ("known", yes(hole["entry"].is_string())),
                        ("doubt", doubt.into()),
                        ("doubts", doubts.into()),
                    ],
                );
                view! {
                    <li>
                        <label class="chip wide">
                            <input
                                type="checkbox"
                                data-hole=""
                                prop:checked=move || take.get()
                                on:change=move |event| take.set(event_target_checked(&event))
                            />
                            <span>{said}</span>
                        </label>
                    </li>
                }
            })
            .collect_view();
        let notes =
            words(&reply, "notes").into_iter().map(|note| view! { <p class="said doubt">{note}</p> }).collect_view();
        let none = each(&reply, "holes").next().is_none().then_some(t("ui-measure-no-hole"));
        let selected: RwSignal<Option<EntryId>> = RwSignal::new(None);
        let enter = move |_| {
            let holes: Vec<_> =
                wanted.iter().filter(|(take, _)| take.get_untracked()).map(|(_, hole)| hole.clone()).collect();
            if holes.is_empty() {
                return app.say(t("ui-measure-tick"));
            }
            let intent = json!({ "take_holes": { "plate": plate, "photo": photo, "holes": holes } });
            app.edit_ready(intent, |_| ());
        };
        Some(view! {
            <div class="side-by-side">
                <figure>
                    <div class="photo">
                        <img alt="" src=files::data_url(&picture) />
                        <svg class="marks" viewBox=format!("0 0 {width} {depth}") role="img" aria-label=t("ui-measure-holes")>{rings}</svg>
                    </div>
                    <figcaption>{t("ui-measure-straightened")}</figcaption>
                </figure>
                <figure>
                    <PlateDrawing plate selected />
                    <figcaption>{t("ui-measure-plate-entered")}</figcaption>
                </figure>
            </div>
            {notes}
            {none}
            <ul class="plain-list" data-measured="">{rows}</ul>
            <button type="button" class="main" data-measure="take" on:click=enter>{t("ui-measure-take")}</button>
        })
    };
    view! {
        <details
            class="box"
            data-open="measure"
            on:toggle=move |event| {
                taps.on.set(event_target::<web_sys::Element>(&event).has_attribute("open"));
            }
        >
            <summary>{t("ui-measure")}</summary>
            <div class="field">
                <label class="name" for="measured-plate">{t("ui-measure-plate")}</label>
                <select id="measured-plate" data-measure="plate" on:change=move |event| plate.set(event_target_value(&event).parse().ok())>
                    {move || {
                        let now = plate_id();
                        plates
                            .get()
                            .into_iter()
                            .map(|(id, name)| view! { <option value=id.to_string() selected=Some(id) == now>{name}</option> })
                            .collect_view()
                    }}
                </select>
            </div>
            <div class="field">
                <label class="name" for="check-line">{t("ui-measure-line")}</label>
                <div class="number">
                    <input
                        id="check-line"
                        inputmode="decimal"
                        autocomplete="off"
                        data-measure="line"
                        on:input=move |event| check_line.set(event_target_value(&event))
                    />
                    <span class="unit">"mm"</span>
                </div>
                <p class="hint">{t("ui-measure-line-empty")}</p>
            </div>
            <p role="status" data-measure="ask-for">{asked}</p>
            <div class="row">
                <button type="button" data-measure="again" on:click=again>{t("ui-measure-again")}</button>
                <button type="button" class="main" data-measure="go" disabled=move || !ready() on:click=ask>{t("ui-measure-go")}</button>
            </div>
            {shown}
        </details>
    }
    .into_any()
}
