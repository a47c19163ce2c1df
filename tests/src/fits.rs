//! Words that have no room on a screen: cut off by what they stand in, beside the page, over one another on a drawing.

use std::collections::BTreeSet;

use crate::webdriver::{Failed, Page};

/// Says which elements cut off what is in them, and which texts of drawings leave their frame or lie over another.
const COLLECT: &str = r"
    const found = new Set();
    const words = element => element.textContent.trim().replace(/\s+/g, ' ').slice(0, 80);
    const seen = element => element.checkVisibility({ visibilityProperty: true, opacityProperty: true });
    const page = document.documentElement;
    if (page.scrollWidth > page.clientWidth + 1) {
        found.add(`the page is ${page.scrollWidth} px wide on a screen of ${page.clientWidth}`);
        const held = element => {
            for (let one = element.parentElement; one && one !== document.body; one = one.parentElement)
                if (getComputedStyle(one).overflowX !== 'visible') return true;
            return false;
        };
        for (const element of document.body.querySelectorAll('*')) {
            const box = element.getBoundingClientRect();
            if (box.right > page.clientWidth + 1 && seen(element) && !element.closest('svg svg, svg *') && !held(element))
                found.add(`beside the page: ${words(element)} (${at(element)})`);
        }
    }
    const hides = value => value === 'hidden' || value === 'clip';
    for (const element of document.body.querySelectorAll('*')) {
        // What is only read aloud is one pixel large.
        if (element.closest('svg') || element.clientWidth <= 1 || !seen(element) || !words(element)) continue;
        const style = getComputedStyle(element);
        const across = element.scrollWidth - element.clientWidth, down = element.scrollHeight - element.clientHeight;
        if (hides(style.overflowX) && across > 1 || hides(style.overflowY) && down > 1)
            found.add(`cut off by ${across} by ${down} px: ${words(element)} (${at(element)})`);
    }
    // A list shows the words of what is picked. Where the browser lets it, it grows with them; else they have one line.
    const pen = document.createElement('canvas').getContext('2d');
    for (const select of document.querySelectorAll('select')) {
        if (!seen(select) || !select.selectedOptions.length) continue;
        const style = getComputedStyle(select), picked = select.selectedOptions[0];
        pen.font = `${style.fontStyle} ${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
        const room = select.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight);
        const needed = pen.measureText(picked.textContent).width;
        const beyond = style.appearance === 'base-select'
            ? select.scrollWidth > select.clientWidth + 1 || select.scrollHeight > select.clientHeight + 1
            : needed > room + 1;
        if (beyond) found.add(`no room in a list, ${Math.round(needed)} of ${Math.round(room)} px: ${words(picked)} (${at(select)})`);
    }
    for (const button of document.querySelectorAll('button, a.button, .badge, .chip, th, td')) {
        if (!seen(button) || button.closest('svg')) continue;
        if (button.scrollWidth > button.clientWidth + 1 && getComputedStyle(button).display !== 'inline')
            found.add(`wider than what it stands in by ${button.scrollWidth - button.clientWidth} px: ${words(button)} (${at(button)})`);
    }
    for (const drawing of document.querySelectorAll('svg')) {
        if (!seen(drawing)) continue;
        const frame = drawing.getBoundingClientRect();
        const texts = [...drawing.querySelectorAll('text')].filter(text => words(text) && seen(text))
            .map(text => [text, text.getBoundingClientRect()]).filter(([, box]) => box.width > 0);
        const scale = frame.width / (drawing.viewBox.baseVal.width || frame.width);
        const slack = Math.max(1, scale);
        texts.forEach(([text, box], place) => {
            const over = Math.max(frame.left - box.left, box.right - frame.right, frame.top - box.top, box.bottom - frame.bottom);
            if (over > slack) found.add(`leaves its drawing by ${over.toFixed(1)} px: ${words(text)} (${at(text)})`);
            const group = text.closest('a') || text.parentElement;
            const around = group.querySelector('rect');
            if (around && text.closest('a')) {
                const inside = around.getBoundingClientRect();
                const beyond = Math.max(inside.left - box.left, box.right - inside.right);
                const middle = box.left < inside.right && box.right > inside.left
                    && (box.top + box.bottom) / 2 > inside.top && (box.top + box.bottom) / 2 < inside.bottom;
                if (middle && beyond > slack) found.add(`leaves its frame by ${beyond.toFixed(1)} px: ${words(text)} (${at(text)})`);
            }
            for (const [other, its] of texts.slice(place + 1)) {
                const across = Math.min(box.right, its.right) - Math.max(box.left, its.left);
                const down = Math.min(box.bottom, its.bottom) - Math.max(box.top, its.top);
                // Letters are less high than their line.
                if (across > slack && down > slack + 0.25 * Math.min(box.height, its.height))
                    found.add(`one over the other by ${across.toFixed(1)} by ${down.toFixed(1)} px: ${words(text)} / ${words(other)} (${at(text)})`);
            }
        });
    }
    return [...found];
";

/// Reads screens and keeps what has no room on them.
#[derive(Default)]
pub struct Room {
    found: BTreeSet<String>,
}

impl Room {
    /// Looks at what a page shows now. `screen` says which it is.
    ///
    /// # Errors
    /// Where the page does not answer.
    pub fn look(&mut self, page: &Page, screen: &str) -> Result<(), Failed> {
        let found = page.look(COLLECT)?;
        let found = found.as_array().map(Vec::as_slice).unwrap_or_default();
        self.found.extend(found.iter().filter_map(|line| Some(format!("{screen}: {}", line.as_str()?))));
        Ok(())
    }

    /// What was found, a line each.
    #[must_use]
    pub fn told(self) -> Vec<String> {
        self.found.into_iter().collect()
    }
}
