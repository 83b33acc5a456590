//! A course that nobody knows the length of: integrated on from where it stands.
//!
//! Invariants: a stretch is integrated once, so what was read of it stays; what lies behind
//! the last reading is forgotten, so memory is bounded.

use crate::cylinder::Chamber as Side;
use crate::rehearsal::physics::course::Node;
use crate::rehearsal::physics::course::at;
use crate::rehearsal::physics::course::with_step;
use crate::rehearsal::physics::handled::Handled;
use crate::rehearsal::physics::handled::warmed;
use crate::rehearsal::physics::instant::Instant;
use crate::rehearsal::physics::run::ABSOLUTE;
use crate::rehearsal::physics::run::Begin;
use crate::rehearsal::physics::run::Equations;
use crate::rehearsal::physics::run::N_STATES;
use crate::rehearsal::physics::run::State;
use crate::rehearsal::physics::specimen::Specimen;
use crate::rehearsal::physics::wear::Wear;
use crate::rehearsal::stiff::StiffError;
use crate::rehearsal::stiff::integrate;

/// First stretch that is integrated, s; later ones are as long as all before them.
const FIRST_S: f64 = 60.0;

/// Longest stretch that is integrated at a time, s.
const LONGEST_S: f64 = 900.0;

/// A cylinder left alone for a time that is still open.
#[derive(Debug, Clone)]
pub(crate) struct Growing {
    specimen: Specimen,
    wear: Wear,
    begin: Begin,
    state: State,
    until_s: f64,
    nodes: Vec<Node>,
    /// The state at each of them.
    states: Vec<State>,
}

impl Growing {
    /// From where a handled cylinder stands now, with the leaks and the plumbing of `specimen`;
    /// pressures and extension are those of its start.
    pub(crate) fn after(handled: &Handled, specimen: Specimen, wear: Wear) -> Self {
        let begin = handled.begin();
        let state = Equations::beginning(&specimen, begin, wear.clone()).start();
        Self {
            specimen,
            wear,
            begin,
            state,
            until_s: begin.at_s,
            nodes: Vec::new(),
            states: Vec::new(),
        }
    }

    /// The cylinder as it was left alone.
    pub(crate) fn specimen(&self) -> &Specimen {
        &self.specimen
    }

    /// The cylinder at a time, s; times must not fall.
    ///
    /// # Errors
    /// If the equations cannot be integrated.
    pub(crate) fn at(&mut self, time_s: f64) -> Result<Instant, StiffError> {
        while self.until_s < time_s || self.nodes.is_empty() {
            self.grow()?;
        }
        let after = self.nodes.partition_point(|node| node.now.time_s < time_s);
        self.nodes.drain(..after.saturating_sub(1));
        self.states.drain(..after.saturating_sub(1));
        Ok(at(&self.nodes, time_s))
    }

    /// Gives the heat over to whoever works it next, as it is at a time, s, that was read
    /// last.
    ///
    /// # Errors
    /// If the equations cannot be integrated.
    pub(crate) fn leave(&mut self, handled: &mut Handled, time_s: f64) -> Result<(), StiffError> {
        let now = self.at(time_s)?;
        // Reading it has forgotten all nodes before the one it lies behind.
        let (node, state) = (&self.nodes[0].now, &self.states[0]);
        let [cap, rod] = Equations::warmth(state);
        let length_s = time_s - node.time_s;
        let of = |side, own, ends_pa| warmed(&self.specimen, side, own, ends_pa, length_s);
        let warmth = [
            of(Side::Cap, &cap, [node.p_cap_pa, now.p_cap_pa]),
            of(Side::Rod, &rod, [node.p_rod_pa, now.p_rod_pa]),
        ];
        handled.take(&now, warmth);
        Ok(())
    }

    fn equations(&self) -> Equations<'_> {
        Equations::beginning(&self.specimen, self.begin, self.wear.clone())
    }

    fn grow(&mut self) -> Result<(), StiffError> {
        let from_s = self.until_s;
        let length_s = (from_s - self.begin.at_s).clamp(FIRST_S, LONGEST_S);
        let (states, nodes) = {
            let equations = self.equations();
            let slope =
                |t: f64, y: &State, dydt: &mut State| *dydt = equations.slope(from_s + t, y);
            let states = integrate(slope, self.state, length_s, [ABSOLUTE; N_STATES])?;
            // The first state of a later stretch is the last of the one before.
            let known = usize::from(!self.nodes.is_empty());
            let nodes: Vec<Node> = with_step(&states)
                .skip(known)
                .map(|(t, state, step_s)| equations.node(from_s + t, state, step_s))
                .collect();
            let states: Vec<State> = states[known..].iter().map(|(_, state)| *state).collect();
            (states, nodes)
        };
        self.state = states.last().copied().unwrap_or(self.state);
        self.until_s = from_s + length_s;
        self.nodes.extend(nodes);
        self.states.extend(states);
        Ok(())
    }
}
