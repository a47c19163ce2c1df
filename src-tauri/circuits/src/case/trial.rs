//! A case with a reading supposed: what settles it, and what else is missing.

use survey::range::Span;
use survey::{Construction, CpcForm, DeviceKind, Formation, Layout, Poles, YesNo};

use super::{BLIND, Case, Feed, Slot, taken_as_usual};
use crate::field::Field;
use crate::tables::Tables;

impl Case<'_> {
    /// True where the field is one exact value.
    pub(crate) fn is_settled(&self, field: Field) -> bool {
        match field {
            Field::Kind => self.kinds.len() == 1,
            Field::System => self.systems.len() == 1,
            Field::Curve => self.curves.len() == 1,
            Field::Material => self.materials.len() == 1,
            Field::Insulation => self.insulations.len() == 1,
            Field::Method => self.methods.len() == 1,
            Field::Construction => self.construction.is_some(),
            Field::Layout => self.layout.is_some(),
            Field::ResidualForm => self.residual_forms.len() == 1,
            Field::DcDetection => self.dc_detection.len() == 1,
            Field::NeutralDistributed => self.neutral_distributed.len() == 1,
            Field::EarthedTogether => self.earthed_together.len() == 1,
            Field::RcdType => self.rcd_types.len() == 1,
            Field::Delay => self.delays.len() == 1,
            Field::EnergyClass => self.energy_classes.len() == 1,
            Field::CpcApart => self.cpc_apart.len() == 1,
            Field::Leading => self.leading.len() == 1,
            Field::Ring => self.rings.len() == 1,
            Field::CpcMaterial | Field::Network => true,
            Field::Terminals => self.terminals_90.len() == 1,
            Field::NeutralProtected => self.neutral_protected.len() == 1,
            Field::ForIt => self.for_it.len() == 1,
            Field::Reduced => self.reduced.len() == 1,
            Field::CurrentForm => true,
            Field::DcRated => self.dc_rated.len() == 1,
            Field::Formation => self.formation.is_some(),
            Field::IncomerRcdType => self.incomer_rcd_types.len() == 1,
            Field::IncomerDelay => self.incomer_delays.len() == 1,
            Field::OwnBlind | Field::IncomerBlind | Field::UpstreamBlind => {
                BLIND.iter().zip(self.blinded).all(|(one, blinded)| *one != field || blinded.len() == 1)
            }
            Field::Cores if self.neutral.len() > 1 => false,
            // Without a reading the usual is taken, no range.
            usual if taken_as_usual(usual).is_some() && self.slots.span(usual).is_none() => true,
            // See [`Case::across`].
            Field::Poles if self.open_to_midpoint() => false,
            Field::Device | Field::DeviceKind | Field::Poles | Field::At | Field::Cable | Field::Cpc => true,
            _ => self.slots.span(field).is_some_and(|span| span.lo == span.hi),
        }
    }

    /// Shows the case as it would be if the field were known: once for each choice left, or with a
    /// range shrunk to its middle. `trial` is made by [`Case::for_trials`], and stands as it was afterwards.
    pub(crate) fn settled(&self, trial: &mut Self, field: Field, mut look: impl FnMut(&Self)) {
        let mut look = |trial: &mut Self| {
            trial.kept.begin(field);
            look(trial);
        };
        macro_rules! each {
            ($choices:ident) => {{
                for one in self.$choices.chunks(1) {
                    trial.$choices = one;
                    look(trial);
                }
                trial.$choices = self.$choices;
            }};
        }
        match field {
            Field::Kind => each!(kinds),
            Field::System => each!(systems),
            Field::Curve => each!(curves),
            Field::Material => each!(materials),
            Field::Insulation => each!(insulations),
            Field::Method => each!(methods),
            Field::ResidualForm => each!(residual_forms),
            Field::DcDetection => each!(dc_detection),
            Field::NeutralDistributed => each!(neutral_distributed),
            Field::EarthedTogether => each!(earthed_together),
            Field::RcdType => each!(rcd_types),
            Field::Delay => each!(delays),
            Field::EnergyClass => each!(energy_classes),
            Field::CpcApart => each!(cpc_apart),
            Field::Leading => each!(leading),
            Field::Ring => each!(rings),
            Field::Terminals => each!(terminals_90),
            Field::NeutralProtected => each!(neutral_protected),
            Field::ForIt => each!(for_it),
            Field::Reduced => each!(reduced),
            Field::DcRated => each!(dc_rated),
            Field::Formation => {
                for one in [Formation::Trefoil, Formation::Flat] {
                    trial.formation = Some(one);
                    look(trial);
                }
                trial.formation = self.formation;
            }
            Field::Poles => {
                for one in [Poles::P1N, Poles::P2] {
                    trial.poles = Some(one);
                    look(trial);
                }
                trial.poles = self.poles;
            }
            Field::OwnBlind | Field::IncomerBlind | Field::UpstreamBlind => {
                for one in YesNo::ALL.chunks(1) {
                    for (place, _) in BLIND.iter().enumerate().filter(|(_, one)| **one == field) {
                        trial.blinded[place] = one;
                    }
                    look(trial);
                }
                trial.blinded = self.blinded;
            }
            Field::IncomerRcdType => each!(incomer_rcd_types),
            Field::IncomerDelay => each!(incomer_delays),
            Field::Cores if self.neutral.len() > 1 => each!(neutral),
            Field::Construction => {
                for one in Construction::ALL {
                    trial.construction = Some(*one);
                    look(trial);
                }
                trial.construction = self.construction;
            }
            Field::Layout => {
                let may = |lie: &&Layout| self.methods.iter().any(|method| Tables::lies(*method).contains(lie));
                for lie in Layout::ALL.iter().filter(may) {
                    trial.layout = Some(*lie);
                    look(trial);
                }
                trial.layout = self.layout;
            }
            _ => {
                if let Slot { span: Some(span), taken } = trial.slots.get(field) {
                    // Settings reach over decades: their middle is the geometric one.
                    let middle = match field {
                        Field::Ii | Field::Isd if span.lo > 0.0 => (span.lo * span.hi).sqrt(),
                        _ => span.lo / 2.0 + span.hi / 2.0,
                    };
                    let middle = Span::point(if Self::counts(field) { middle.round() } else { middle });
                    trial.slots.set(field, Slot { span: Some(middle), taken });
                }
                look(trial);
                trial.slots.set(field, self.slots.get(field));
            }
        }
    }

    /// Shows the case with something put in for a field that is missing, as [`Case::suppose`] does; `trial` as for
    /// [`Case::settled`].
    pub(crate) fn supposed(&self, trial: &mut Self, field: Field, look: impl FnOnce(&Self)) {
        // What is kept looks for these by nothing but `get`, which counts them as read; beside a measured R1+R2 size and
        // length are only glanced at.
        let counted = match field {
            Field::CpcSize | Field::Power => true,
            Field::Size | Field::Length => self.slots.span(Field::R1R2).is_none(),
            _ => false,
        };
        if counted {
            trial.suppose(field);
            trial.kept.begin(field);
            look(trial);
            trial.slots.set(field, self.slots.get(field));
        } else {
            let mut supposed = self.clone();
            supposed.suppose(field);
            let _keeping = supposed.keep();
            look(&supposed);
        }
    }

    const fn counts(field: Field) -> bool {
        matches!(field, Field::Grouped | Field::GroupedLight | Field::Cores | Field::Parallel)
    }

    /// Puts something in for a field that is missing, to see what else is missing.
    pub(crate) fn suppose(&mut self, field: Field) {
        let mut fill = |fields: &[Field]| {
            for field in fields {
                let slot = self.slots.get(*field);
                self.slots.set(*field, Slot { span: slot.span.or(Some(Span::point(1.0))), ..slot });
            }
        };
        match field {
            Field::Device => {
                fill(&[Field::Rated, Field::Breaking, Field::Residual]);
                self.has_device = true;
                self.device_kind = Some(DeviceKind::CircuitBreaker);
                self.feed = Ok(Feed::OneLine(None));
            }
            Field::Cable => {
                fill(&[Field::Cores, Field::Size, Field::Ambient, Field::Grouped, Field::Length, Field::CpcSize]);
                self.has_cable = true;
                self.cpc = Some(CpcForm::Core);
            }
            Field::DeviceKind => self.device_kind = Some(DeviceKind::CircuitBreaker),
            Field::Poles | Field::At => {
                self.feed = Ok(Feed::OneLine(None));
                self.poles = self.poles.or(Some(Poles::P1));
            }
            Field::Cpc => self.cpc = Some(CpcForm::Core),
            other => fill(&[other]),
        }
    }
}
