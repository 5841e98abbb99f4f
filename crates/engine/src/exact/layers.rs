//! Masses of a chain, in layers of equal history.

/// A mass, and the mass times the time of its commands \[s\].
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Slot {
    pub(super) mass: f64,
    pub(super) moment_s: f64,
}

impl Slot {
    /// Adds a share of another slot, whose command took so long.
    #[inline(always)]
    pub(super) fn take(&mut self, from: Self, share: f64, duration_s: f64) {
        self.mass += from.mass * share;
        self.moment_s += (from.moment_s + from.mass * duration_s) * share;
    }
}

/// Slots in layers: one layer for every history that is told apart. Layers without mass take no time.
#[derive(Debug, Default)]
pub(super) struct Layers {
    layers: Vec<Layer>,
}

#[derive(Debug, Default)]
struct Layer {
    slots: Vec<Slot>,
    used: bool,
}

impl Layers {
    /// Removes all mass.
    pub(super) fn clear(&mut self) {
        for layer in self.layers.iter_mut().filter(|layer| layer.used) {
            layer.slots.fill(Slot::default());
            layer.used = false;
        }
    }

    /// Layers so far.
    pub(super) fn len(&self) -> usize {
        self.layers.len()
    }

    /// The slots of a layer with mass; a slot beyond its end has none.
    pub(super) fn used(&self, layer: usize) -> Option<&[Slot]> {
        let layer = self.layers.get(layer)?;
        layer.used.then_some(&layer.slots)
    }

    /// The slots of a layer, at least `slots` of them, to be added to.
    pub(super) fn fill_up(&mut self, layer: usize, slots: usize) -> &mut [Slot] {
        if self.layers.len() <= layer {
            self.layers.resize_with(layer + 1, Layer::default);
        }
        let layer = &mut self.layers[layer];
        if layer.slots.len() < slots {
            layer.slots.resize(slots, Slot::default());
        }
        layer.used = true;
        &mut layer.slots
    }
}
