//! A plate to scale, seen from outside; entries are dragged to the millimetre.

use std::collections::BTreeMap;

use api::{EntryView, PlateView};
use leptos::prelude::*;
use survey::ids::{EntryId, PlateId};
use survey::intent::Intent;
use survey::pattern::{Point, Rect};
use wasm_bindgen::JsCast;

use super::board_drawing::clip;
use crate::state::app;
use crate::words::{t, tr, yes};

/// Room around the plate for dimensions, in millimetres.
const MARGIN: f64 = 34.0;
/// How near a row or column draws a dragged entry to itself, in millimetres.
const SNAP: f64 = 4.0;

/// The plate; a tap selects an entry, a drag moves it.
#[component]
pub fn PlateDrawing(
    /// Which.
    plate: PlateId,
    /// The selected entry.
    selected: RwSignal<Option<EntryId>>,
    /// All dimensions from the datum corner are shown.
    #[prop(optional)]
    dimensioned: RwSignal<bool>,
) -> impl IntoView {
    let app = app();
    let shown =
        Memo::new(move |_| app.of_view(|view| view.plates.iter().find(|one| one.id == plate).cloned()).flatten());
    // Where an entry is held right now, before it is let go.
    let held: RwSignal<Option<(EntryId, Point)>> = RwSignal::new(None);
    // Where a moved entry was let go, until the reply says where it is.
    let let_go: RwSignal<BTreeMap<EntryId, Point>> = RwSignal::new(BTreeMap::new());
    let position = move |entry: &EntryView| {
        let held = held.get().filter(|(id, _)| *id == entry.id).map(|(_, at)| at);
        held.or_else(|| let_go.with(|moved| moved.get(&entry.id).copied())).or(entry.at)
    };
    let grab: StoredValue<Option<Point>> = StoredValue::new(None);

    let sheet = move |view: PlateView| -> AnyView {
        let Some([width, depth]) = view.size else {
            return view! { <p class="empty">{t("ui-plate-not-drawn")}</p> }.into_any();
        };
        // Letters of 16 px where the plate fills a tablet held upright.
        let letter = ((width + 2.0 * MARGIN) / 46.0).clamp(3.0, 14.0);
        let [right, front] = view.datum;
        let corner = [if right { width } else { 0.0 }, if front { depth } else { 0.0 }];
        let entries = view.entries.clone();
        let nodes = view.entries.iter().map(|entry| {
            let id = entry.id;
            let movable = !entry.existing && !entry.locked;
            let at = {
                let entry = entry.clone();
                Memo::new(move |_| position(&entry))
            };
            let hole = entry.hole.unwrap_or(20.0);
            let clear = entry.clear.unwrap_or(hole);
            // The bolt of its earth tag, from its own centre.
            let tag = entry.tag.zip(entry.at).map(|(([x, y], bolt), [cx, cy])| ([x - cx, y - cy], bolt));
            let state = match (entry.existing, entry.locked) {
                (true, _) => "there",
                (_, true) => "locked",
                _ => "free",
            };
            let (name, cable) = (entry.name.clone(), entry.cable.to_string());
            let label = move || {
                let [x, y] = at.get().unwrap_or_default();
                tr(
                    "ui-plate-entry",
                    &[
                        ("entry", name.as_str().into()),
                        ("feeds", yes(!cable.is_empty())),
                        ("cable", cable.as_str().into()),
                        ("state", state.into()),
                        ("placed", yes(at.get().is_some())),
                        ("x", x.into()),
                        ("y", y.into()),
                    ],
                )
            };
            let down = move |event: web_sys::PointerEvent| {
                selected.set(Some(id));
                if !movable {
                    return;
                }
                if let (Some([x, y]), Some([px, py])) = (at.get_untracked(), to_millimetres(&event)) {
                    event.prevent_default();
                    grab.set_value(Some([px - x, py - y]));
                    held.set(Some((id, [x, y])));
                    let target = event.target().and_then(|target| target.dyn_into::<web_sys::Element>().ok());
                    if let Some(entry) = target.and_then(|target| target.closest("[data-entry]").ok().flatten()) {
                        let _ = entry.set_pointer_capture(event.pointer_id());
                    }
                }
            };
            // Rows and columns of the others draw a dragged entry to themselves.
            let lines: Vec<Point> = entries.iter().filter(|other| other.id != id).filter_map(|other| other.at).collect();
            let snapped = move |at: f64, axis: usize| {
                let near = lines.iter().map(|line| line[axis]).filter(|line| (line - at).abs() <= SNAP);
                near.min_by(|a, b| (a - at).abs().total_cmp(&(b - at).abs())).unwrap_or_else(|| at.round())
            };
            let moved = move |event: web_sys::PointerEvent| {
                let holding = held.get_untracked().is_some_and(|(held, _)| held == id);
                if let (true, Some([dx, dy]), Some([px, py])) = (holding, grab.get_value(), to_millimetres(&event)) {
                    held.set(Some((id, [snapped(px - dx, 0), snapped(py - dy, 1)])));
                }
            };
            let start = entry.at;
            let up = move |_: web_sys::PointerEvent| {
                let Some((_, at)) = held.get_untracked().filter(|(held, _)| *held == id) else { return };
                held.set(None);
                if Some(at) == start {
                    return;
                }
                let Some(board) = app.board() else { return };
                let_go.update(|moved| {
                    moved.insert(id, at);
                });
                let back = move || {
                    let_go.update(|moved| {
                        moved.remove(&id);
                    });
                };
                app.ask_or(
                    api::DragEntry { board, plate, entry: id, to: at },
                    move |reply| {
                        let Some(legal) = reply.at.filter(|legal| Some(*legal) != start) else {
                            back();
                            return app.say(tr("ui-plate-stays", &[("why", reply.why.join(" ").into())]));
                        };
                        let why = reply.why.join(" ");
                        app.edit_then(Intent::MoveEntry { plate, entry: id, at: legal }, move |result| {
                            back();
                            if result.is_ok() && !why.is_empty() {
                                let [x, y] = legal;
                                app.say(tr("ui-plate-moved", &[("x", x.into()), ("y", y.into()), ("why", why.into())]));
                            }
                        });
                    },
                    back,
                );
            };
            let give_up = move |_: web_sys::PointerEvent| held.set(None);
            let key = move |event: web_sys::KeyboardEvent| {
                let step = if event.shift_key() { 10.0 } else { 1.0 };
                let [dx, dy] = match event.key().as_str() {
                    "ArrowLeft" => [-step, 0.0],
                    "ArrowRight" => [step, 0.0],
                    "ArrowUp" => [0.0, -step],
                    "ArrowDown" => [0.0, step],
                    "Enter" | " " => {
                        event.prevent_default();
                        return selected.set(Some(id));
                    }
                    _ => return,
                };
                event.prevent_default();
                selected.set(Some(id));
                if let (true, Some([x, y])) = (movable, at.get_untracked()) {
                    let at = [x + dx, y + dy];
                    let_go.update(|moved| {
                    moved.insert(id, at);
                });
                    app.edit_then(Intent::MoveEntry { plate, entry: id, at }, move |_| {
                        let_go.update(|moved| {
                        moved.remove(&id);
                    });
                    });
                }
            };
            let height = entry.height;
            // The number and the size: the list beside has the rest.
            let short = entry.name.split_whitespace().take(2).collect::<Vec<_>>().join(" ");
            let short = clip(&short, 12);
            let lock = if entry.existing { "■" } else if entry.locked { "▣" } else { "" };
            view! {
                <g
                    class=move || if selected.get() == Some(id) { "entry chosen" } else { "entry" }
                    class:movable=movable
                    class:conflict=entry.conflict
                    tabindex="0"
                    role="button"
                    data-entry=id.to_string()
                    aria-pressed=move || (selected.get() == Some(id)).to_string()
                    aria-label=label
                    transform=move || at.get().map_or_else(|| "translate(0 0)".to_owned(), |[x, y]| format!("translate({x} {y})"))
                    on:pointerdown=down
                    on:pointermove=moved
                    on:pointerup=up
                    on:pointercancel=give_up
                    on:keydown=key
                >
                    <circle r=(clear / 2.0).max(letter * 1.6) class="grip"></circle>
                    <circle r=clear / 2.0 class="clear"></circle>
                    {match height {
                        Some(height) => {
                            view! { <rect x=-hole / 2.0 y=-height / 2.0 width=hole height=height class="hole"></rect> }
                                .into_any()
                        }
                        None => view! { <circle r=hole / 2.0 class="hole"></circle> }.into_any(),
                    }}
                    <path d=format!("M{} 0H{}M0 {}V{}", -hole * 0.7, hole * 0.7, -hole * 0.7, hole * 0.7) class="centre"></path>
                    {tag.map(|([x, y], bolt)| {
                        view! {
                            <g data-tag="" transform=format!("translate({x} {y})")>
                                <circle r=bolt / 2.0 class="hole"></circle>
                                <path d=format!("M{} 0H{bolt}M0 {}V{bolt}", -bolt, -bolt) class="centre"></path>
                            </g>
                        }
                    })}
                    <text y=clear / 2.0 + letter * 1.1 class="middle-x" font-size=letter>
                        {format!("{short}{lock}")}
                    </text>
                </g>
            }
            .into_any()
        }).collect_view();
        let dimension = move || {
            let chosen = selected.get()?;
            let [x, y] = position(entries.iter().find(|entry| entry.id == chosen)?)?;
            Some(dimensions(x, y, corner, letter))
        };
        let all = {
            let entries = view.entries.clone();
            move || {
                dimensioned.get().then(|| {
                    let at: Vec<Point> = entries.iter().filter_map(position).collect();
                    cumulative(&at, corner, width, depth, letter * 0.8)
                })
            }
        };
        let usable = view.usable.map(|usable| boxed(usable, "usable"));
        let keep_outs = view.keep_outs.iter().map(|one| boxed(*one, "keep-out")).collect_view();
        let fan = view
            .fan
            .iter()
            .map(|line| {
                let of = view.entries.iter().find(|entry| entry.id == line.entry).cloned();
                // Beyond the plate's ends the way is off the drawing: the line points there.
                let to = line.to.clamp(4.0 - MARGIN, width + MARGIN - 4.0);
                let path = move || {
                    of.as_ref()
                        .and_then(position)
                        .map(|[x, y]| format!("M{x} {y}C{x} {} {to} {} {to} {}", y / 2.0, y / 2.0, -MARGIN * 0.7))
                };
                view! { <path class="fan" d=path></path> }
            })
            .collect_view();
        // Ways that lie close together share their label.
        let mut ways: Vec<(f64, String)> = Vec::new();
        for line in &view.fan {
            let to = line.to.clamp(4.0 - MARGIN, width + MARGIN - 4.0);
            let name = line.name.trim_start_matches("circuit ");
            match ways.iter_mut().find(|(at, _)| (at - to).abs() < letter * 3.0) {
                Some((_, names)) => names.push_str(&format!(" {name}")),
                None => ways.push((to, name.to_owned())),
            }
        }
        let ways = ways
            .into_iter()
            .map(|(to, names)| {
                view! { <text class="fan-name middle-x" x=to y=-MARGIN * 0.75 font-size=letter * 0.8>{clip(&names, 16)}</text> }
            })
            .collect_view();
        let slots = view
            .slots
            .iter()
            .map(|slot| {
                let ([x1, y1], [x2, y2]) = (slot.from, slot.to);
                view! { <line class="slot" x1=x1 y1=y1 x2=x2 y2=y2 stroke-width=slot.width data-slot=slot.id.to_string()></line> }
            })
            .collect_view();
        let size = [("plate", view.name.as_str().into()), ("width", width.into()), ("depth", depth.into())];
        let words = tr("ui-plate-drawing", &size);
        view! {
            <svg
                class="plate-sheet"
                data-plate-drawing=""
                viewBox=format!("{} {} {} {}", -MARGIN, -MARGIN, width + 2.0 * MARGIN, depth + 2.0 * MARGIN)
                role="group"
                aria-label=words
            >
                <defs>
                    <pattern id="plate-hatch" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
                        <line x1="0" y1="0" x2="0" y2="5" class="hatch-line"></line>
                    </pattern>
                </defs>
                {boxed(Rect::new(0.0, 0.0, width, depth), "sheet")}
                {usable}
                {keep_outs}
                {datum_mark(corner, view.datum, letter)}
                <text x=width / 2.0 y=-letter * 0.6 font-size=letter class="middle-x">{t("ui-plate-rear")}</text>
                <text x=width / 2.0 y=depth + letter * 1.2 font-size=letter class="middle-x">{t("ui-plate-front")}</text>
                <text x=width y=depth + letter * 1.2 font-size=letter class="end">
                    {tr("ui-plate-size", &size)}
                </text>
                <g aria-hidden="true">{slots} {fan} {ways}</g>
                {nodes}
                {all}
                {dimension}
            </svg>
        }
        .into_any()
    };
    view! { <div class="plate-frame">{move || shown.get().map(sheet)}</div> }.into_any()
}

fn boxed(at: Rect, class: &'static str) -> AnyView {
    view! { <rect x=at.x y=at.y width=at.w height=at.h class=class></rect> }.into_any()
}

/// The corner that dimensions run from.
fn datum_mark([x, y]: Point, [right, front]: [bool; 2], letter: f64) -> AnyView {
    let arm = |back: bool| if back { -letter * 2.0 } else { letter * 2.0 };
    let words = y + if front { letter * 2.4 } else { -letter * 0.6 };
    view! {
        <path d=format!("M{x} {}V{y}H{}", y + arm(front), x + arm(right)) class="datum"></path>
        <circle cx=x cy=y r="2" class="datum-dot"></circle>
        <text x=x y=words font-size=letter class="strong" class:end=right>{t("ui-plate-datum")}</text>
    }
    .into_any()
}

/// The distance along an axis as a person reads it: to a hundredth.
fn distance(from: f64, to: f64) -> f64 {
    ((to - from).abs() * 100.0).round() / 100.0
}

fn dimensions(x: f64, y: f64, [from_x, from_y]: Point, letter: f64) -> AnyView {
    let above = -MARGIN * 0.55;
    let left = -MARGIN * 0.45;
    let middle = (from_y + y) / 2.0;
    view! {
        <g class="dimension" aria-hidden="true">
            <path d=format!("M{from_x} {above}H{x}M{from_x} {}V0M{x} {}V{y}", above - 3.0, above - 3.0)></path>
            <path d=format!("M{left} {from_y}V{y}M{} {from_y}H0M{} {y}H{x}", left - 3.0, left - 3.0)></path>
            <text x=(from_x + x) / 2.0 y=above - 2.0 class="middle-x" font-size=letter>
                {distance(from_x, x).to_string()}
            </text>
            <text x=left - 2.0 y=middle class="middle-x" font-size=letter transform=format!("rotate(-90 {} {middle})", left - 2.0)>
                {distance(from_y, y).to_string()}
            </text>
        </g>
    }
    .into_any()
}

/// Every distance from the datum corner, along the front and the right edge.
fn cumulative(at: &[Point], [from_x, from_y]: Point, width: f64, depth: f64, letter: f64) -> AnyView {
    let distances = |axis: usize| {
        let mut list: Vec<f64> = at.iter().map(|point| point[axis]).collect();
        list.sort_by(f64::total_cmp);
        list.dedup();
        list
    };
    let below = distances(0).into_iter().map(|x| {
        let y = depth + letter * 2.0;
        view! {
            <path d=format!("M{x} {depth}V{}", y - letter * 0.3)></path>
            <text x=x y=y font-size=letter class="end" transform=format!("rotate(-90 {x} {y})") dy=letter * 0.35>{distance(from_x, x)}</text>
        }
    });
    let right = distances(1).into_iter().map(|y| {
        let x = width + letter * 1.5;
        view! {
            <path d=format!("M{width} {y}H{}", x - letter * 0.3)></path>
            <text x=x y=y + letter * 0.35 font-size=letter>{distance(from_y, y)}</text>
        }
    });
    view! {
        <g class="dimension" aria-hidden="true" data-dimensions="">{below.collect_view()} {right.collect_view()}</g>
    }
    .into_any()
}

/// Where the pointer is, in millimetres from the left rear corner.
fn to_millimetres(event: &web_sys::PointerEvent) -> Option<Point> {
    // The target, not the current one: events are handled at the root of the page.
    let target: web_sys::Element = event.target()?.dyn_into().ok()?;
    let sheet: web_sys::SvgGraphicsElement = target.closest("svg").ok()??.dyn_into().ok()?;
    let matrix = sheet.get_screen_ctm()?;
    let (scale_x, scale_y) = (f64::from(matrix.a()), f64::from(matrix.d()));
    if scale_x == 0.0 || scale_y == 0.0 {
        return None;
    }
    let x = (f64::from(event.client_x()) - f64::from(matrix.e())) / scale_x;
    let y = (f64::from(event.client_y()) - f64::from(matrix.f())) / scale_y;
    Some([x, y])
}
