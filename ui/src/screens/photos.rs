//! Photos: taken or brought in, pinned to a way or plate, marked.

use api::PhotoSize;
use leptos::prelude::*;
use serde::Deserialize;
use serde_json::{Value, json};
use survey::ids::{MarkId, PhotoId};
use survey::intent::Intent;
use survey::pattern::Point;
use survey::{Mark, MarkShape};
use wasm_bindgen::JsCast;

use crate::files;
use crate::parts::measure::{Measure, Taps};
use crate::parts::plain::{PickField, TextField};
use crate::sheet;
use crate::state::{App, app};
use crate::words::{t, tr, yes};

/// The photos of the board.
#[component]
pub fn Photos() -> impl IntoView {
    let app = app();
    let open: RwSignal<Option<PhotoId>> = RwSignal::new(None);
    let pin = RwSignal::new(0_usize);
    let pins = pins();
    let photos = Memo::new(move |_| {
        app.of_view(|view| {
            let text = |photo: &Value, key: &str| photo[key].as_str().unwrap_or_default().to_owned();
            sheet::live(&view.board, "photos")
                .filter_map(|(id, photo)| {
                    Some((id.parse().ok()?, text(photo, "hash"), text(photo, "caption"), text(photo, "pinned")))
                })
                .collect::<Vec<(PhotoId, String, String, String)>>()
        })
        .unwrap_or_default()
    });
    let add = move |event: web_sys::Event| {
        let (Some(file), Some(board)) = (files::picked(&event), app.board()) else { return };
        let pinned = pins.with_untracked(|pins| {
            pins.get(pin.get_untracked()).and_then(|(value, _)| value.as_str().map(str::to_owned))
        });
        let request = api::PhotoFile { board, caption: String::new(), pinned: pinned.unwrap_or_default(), have: None };
        app.change_with(request, file, t("ui-photos-kept").to_owned(), move |result| {
            let Ok(edited) = result else { return };
            let new = edited
                .touched
                .iter()
                .find_map(|path| path.strip_prefix("/photos/").and_then(|rest| rest.split('/').next()?.parse().ok()));
            let _ = open.try_set(new);
        });
    };
    let words = move |pinned: &str| {
        pins.with(|pins| pins.iter().find(|(value, _)| value.as_str() == Some(pinned)).map(|(_, words)| words.clone()))
            .unwrap_or_else(|| pinned.to_owned())
    };
    let thumbnails = move || {
        photos
            .get()
            .into_iter()
            .map(|(id, hash, caption, pinned)| {
                let about = words(&pinned);
                let label = match caption.is_empty() {
                    true => tr("ui-photos-photo", &[("about", about.as_str().into())]),
                    false => format!("{caption}, {about}"),
                };
                view! {
                    <li>
                        <button
                            type="button"
                            class="thumb"
                            data-photo=id.to_string()
                            aria-label=label
                            aria-pressed=move || (open.get() == Some(id)).to_string()
                            on:click=move |_| open.set(Some(id))
                        >
                            {picture(app, hash, PhotoSize::Thumbnail)}
                            <span>{if caption.is_empty() { about } else { caption }}</span>
                        </button>
                    </li>
                }
            })
            .collect_view()
    };
    view! {
        <div class="single">
            <h2>{t("ui-photos")}</h2>
            <crate::parts::checks::Cautions of=survey::Outlet::Photos />
            <div class="row">
                <label class="detail">
                    <span>{t("ui-photos-shows")}</span>
                    <select data-pin="" on:change=move |event| pin.set(event_target_value(&event).parse().unwrap_or_default())>
                        {move || {
                            pins.get()
                                .into_iter()
                                .enumerate()
                                .map(|(index, (_, words))| view! { <option value=index.to_string()>{words}</option> })
                                .collect_view()
                        }}
                    </select>
                </label>
                <label class="button file main">
                    {t("ui-photos-take")}
                    <input type="file" accept="image/*" capture="environment" data-photo-new="take" on:change=add />
                </label>
                <label class="button file">
                    {t("ui-photos-file")}
                    <input type="file" accept="image/*" data-photo-new="file" on:change=add />
                </label>
            </div>
            {move || open.get().map(|id| viewer(id, open))}
            {move || {
                photos
                    .with(Vec::is_empty)
                    .then(|| view! { <p class="empty">{t("ui-photos-none")}</p> })
            }}
            <ul class="thumbs" aria-label=t("ui-photos")>{thumbnails}</ul>
        </div>
    }
    .into_any()
}

/// What a photo can show: nothing in particular, a pole, a plate.
fn pins() -> Signal<Vec<(Value, String)>> {
    let app = app();
    let memo = Memo::new(move |_| {
        let mut list = vec![(json!(""), t("ui-photos-the-board").to_owned())];
        list.extend(
            app.of_view(|view| {
                let plates = view.plates.iter().map(|plate| (json!(plate.id.to_string()), plate.name.clone()));
                let cells = view.drawing.iter().flat_map(|drawing| &drawing.cells);
                let poles = cells.map(|cell| {
                    let words = tr(
                        "ui-photos-pole",
                        &[
                            ("pole", cell.pole.as_str().into()),
                            ("feeds", yes(!cell.description.is_empty())),
                            ("description", cell.description.as_str().into()),
                        ],
                    );
                    (json!(cell.pole), words)
                });
                plates.chain(poles).collect::<Vec<_>>()
            })
            .unwrap_or_default(),
        );
        list
    });
    memo.into()
}

fn picture(app: App, hash: String, size: PhotoSize) -> AnyView {
    let url: RwSignal<Option<String>> = RwSignal::new(None);
    app.ask(api::PhotoData { hash, size }, move |blob| drop(url.try_set(Some(files::data_url(&blob)))));
    // The words are on the button or under the picture.
    view! { <img alt="" src=move || url.get() class:waiting=move || url.with(Option::is_none) draggable="false" /> }
        .into_any()
}

fn viewer(id: PhotoId, open: RwSignal<Option<PhotoId>>) -> AnyView {
    let app = app();
    let photo = Memo::new(move |_| {
        app.of_view(|view| {
            let photo = sheet::one(&view.board, "photos", id)?;
            let pixels = |key: &str| photo[key].as_f64().unwrap_or_default().max(1.0);
            Some((photo["hash"].as_str().unwrap_or_default().to_owned(), pixels("width"), pixels("height")))
        })
        .flatten()
    });
    let marks = Memo::new(move |_| {
        app.of_view(|view| {
            let photo = sheet::one(&view.board, "photos", id)?;
            let live = sheet::live(photo, "marks");
            let read = live.filter_map(|(id, mark)| Some((id.parse().ok()?, Mark::deserialize(mark).ok()?)));
            Some(read.collect::<Vec<(MarkId, Mark)>>())
        })
        .flatten()
        .unwrap_or_default()
    });
    let tool: RwSignal<Option<MarkShape>> = RwSignal::new(None);
    let text = RwSignal::new(String::new());
    let drawn: RwSignal<Option<[Point; 2]>> = RwSignal::new(None);
    let taps = Taps::new();
    let down = move |event: web_sys::PointerEvent| {
        if let (true, None, Some(at)) = (taps.on.get_untracked(), tool.get_untracked(), share(&event)) {
            event.prevent_default();
            return taps.take(at);
        }
        let (Some(shape), Some(at)) = (tool.get_untracked(), share(&event)) else { return };
        event.prevent_default();
        if shape == MarkShape::Text {
            let words = text.get_untracked().trim().to_owned();
            if words.is_empty() {
                return app.say(t("ui-photos-words-first"));
            }
            let mark = Mark { shape: Some(shape), points: vec![at], text: words, ..Mark::default() };
            return app.edit(Intent::AddMark { photo: id, mark });
        }
        if let Some(sheet) = sheet_of(&event) {
            let _ = sheet.set_pointer_capture(event.pointer_id());
        }
        drawn.set(Some([at, at]));
    };
    let moved = move |event: web_sys::PointerEvent| {
        if let (Some([from, _]), Some(to)) = (drawn.get_untracked(), share(&event)) {
            drawn.set(Some([from, to]));
        }
    };
    let up = move |_: web_sys::PointerEvent| {
        let (Some([from, to]), Some(shape)) = (drawn.get_untracked(), tool.get_untracked()) else { return };
        drawn.set(None);
        // A mark shorter than a fingertip's slip was a tap.
        if distance(from, to) < 0.01 {
            return;
        }
        let mark = Mark { shape: Some(shape), points: vec![from, to], ..Mark::default() };
        app.edit(Intent::AddMark { photo: id, mark });
    };
    let tool_button = move |shape: MarkShape, sign: &'static str| {
        view! {
            <button
                type="button"
                class="filter"
                data-tool=shape.key()
                aria-pressed=move || (tool.get() == Some(shape)).to_string()
                on:click=move |_| tool.update(|tool| *tool = if *tool == Some(shape) { None } else { Some(shape) })
            >
                <span aria-hidden="true">{sign}</span>
                {t(shape_words(shape))}
            </button>
        }
    };
    let sheet = move || {
        let (hash, width, height) = photo.get()?;
        Some(view! {
            <div class="photo">
                {picture(app, hash, PhotoSize::Screen)}
                <svg
                    class="marks"
                    class:drawing=move || tool.with(Option::is_some) || taps.on.get()
                    data-marks=""
                    viewBox=format!("0 0 {width} {height}")
                    role="img"
                    aria-label=move || tr("ui-photos-marks", &[("count", marks.with(Vec::len).into())])
                    on:pointerdown=down
                    on:pointermove=moved
                    on:pointerup=up
                    on:pointercancel=move |_| drawn.set(None)
                >
                    {move || {
                        marks
                            .get()
                            .into_iter()
                            .map(|(id, mark)| mark_shape(Some(id), mark.shape, &mark.points, &mark.text, width, height))
                            .collect_view()
                    }}
                    {move || taps.on.get().then(|| taps.drawn(width, height))}
                    {move || drawn.get().map(|points| mark_shape(None, tool.get(), &points, "", width, height))}
                </svg>
            </div>
        })
    };
    let list = move || {
        marks
            .get()
            .into_iter()
            .map(|(mark, found)| {
                let words = match found.shape {
                    Some(MarkShape::Text) => tr("ui-photos-text", &[("text", found.text.as_str().into())]),
                    Some(shape) => t(shape_words(shape)).to_owned(),
                    None => t("ui-photos-mark").to_owned(),
                };
                view! {
                    <li class="row spread">
                        <span>{words}</span>
                        <button
                            type="button"
                            data-remove-mark=mark.to_string()
                            on:click=move |_| app.set(format!("/photos/{id}/marks/{mark}/removed"), json!(true))
                        >
                            {t("ui-remove")}
                        </button>
                    </li>
                }
            })
            .collect_view()
    };
    view! {
        <section class="box" data-photo-open=id.to_string()>
            <div class="row">
                {tool_button(MarkShape::Arrow, "↗ ")} {tool_button(MarkShape::Box, "▭ ")}
                {tool_button(MarkShape::Text, "T ")}
                {move || {
                    (tool.get() == Some(MarkShape::Text))
                        .then(|| {
                            view! {
                                <input
                                    aria-label=t("ui-photos-mark-words")
                                    placeholder=t("ui-photos-words")
                                    data-mark-text=""
                                    prop:value=move || text.get()
                                    on:input=move |event| text.set(event_target_value(&event))
                                />
                            }
                        })
                }}
                <span class="grow"></span>
                <button type="button" on:click=move |_| open.set(None)>{t("ui-close")}</button>
            </div>
            <p class="hint" role="status">
                {move || match tool.get() {
                    Some(MarkShape::Text) => t("ui-photos-tap"),
                    Some(_) => t("ui-photos-drag"),
                    None => t("ui-photos-pick"),
                }}
            </p>
            {sheet}
            <Measure photo=id taps />
            <ul class="plain-list">{list}</ul>
            <TextField path=format!("/photos/{id}/caption") />
            <PickField path=format!("/photos/{id}/pinned") list=pins() />
            <button
                type="button"
                class="danger"
                data-remove="photo"
                on:click=move |_| {
                    open.set(None);
                    app.set(format!("/photos/{id}/removed"), json!(true));
                }
            >
                {t("ui-photos-remove")}
            </button>
        </section>
    }
    .into_any()
}

/// The message that names a kind of mark.
const fn shape_words(shape: MarkShape) -> &'static str {
    match shape {
        MarkShape::Arrow => "ui-photos-arrow",
        MarkShape::Box => "ui-photos-box",
        MarkShape::Text => "ui-photos-shape-text",
    }
}

/// The drawing over the picture that the pointer is on.
fn sheet_of(event: &web_sys::PointerEvent) -> Option<web_sys::Element> {
    // The target, not the current one: events are handled at the root of the page.
    event.target()?.dyn_into::<web_sys::Element>().ok()?.closest("svg").ok().flatten()
}

/// Where the pointer is, as shares of the picture's width and height.
fn share(event: &web_sys::PointerEvent) -> Option<Point> {
    let frame = sheet_of(event)?.get_bounding_client_rect();
    if frame.width() <= 0.0 || frame.height() <= 0.0 {
        return None;
    }
    let x = (f64::from(event.client_x()) - frame.left()) / frame.width();
    let y = (f64::from(event.client_y()) - frame.top()) / frame.height();
    Some([x.clamp(0.0, 1.0), y.clamp(0.0, 1.0)])
}

fn mark_shape(
    id: Option<MarkId>,
    shape: Option<MarkShape>,
    points: &[Point],
    text: &str,
    width: f64,
    height: f64,
) -> AnyView {
    let at = |index: usize| points.get(index).map(|[x, y]| [x * width, y * height]);
    let size = width.max(height) / 32.0;
    let id = id.map(|id| id.to_string());
    match (shape, at(0), at(1)) {
        (Some(MarkShape::Text), Some([x, y]), _) => view! {
            <g class="mark-shape" data-mark=id>
                <text x=x y=y font-size=size stroke-width=size / 6.0>
                    {text.to_owned()}
                </text>
            </g>
        }
        .into_any(),
        (Some(MarkShape::Box), Some([x1, y1]), Some([x2, y2])) => {
            let path = format!("M{x1} {y1}H{x2}V{y2}H{x1}Z");
            stroked(id, path, size)
        }
        (Some(MarkShape::Arrow), Some([x1, y1]), Some([x2, y2])) => {
            let length = distance([x1, y1], [x2, y2]).max(1e-9);
            let (ux, uy) = ((x2 - x1) / length, (y2 - y1) / length);
            let head = size.min(length / 2.0);
            let (bx, by) = (x2 - ux * head, y2 - uy * head);
            let (wx, wy) = (-uy * head * 0.6, ux * head * 0.6);
            let path = format!("M{x1} {y1}L{x2} {y2}M{} {}L{x2} {y2}L{} {}", bx + wx, by + wy, bx - wx, by - wy);
            stroked(id, path, size)
        }
        _ => ().into_any(),
    }
}

/// A light line on a dark one: seen on any picture.
fn stroked(id: Option<String>, path: String, size: f64) -> AnyView {
    view! {
        <g class="mark-shape" data-mark=id>
            <path class="under" d=path.clone() stroke-width=size / 3.0></path>
            <path class="over" d=path stroke-width=size / 6.0></path>
        </g>
    }
    .into_any()
}

fn distance(from: [f64; 2], to: [f64; 2]) -> f64 {
    let (x, y) = (to[0] - from[0], to[1] - from[1]);
    (x * x + y * y).sqrt()
}
