//! A fair queue: pages take turns, however many items each has waiting.

use std::collections::VecDeque;

/// Most items in the queue.
const MOST: usize = 64;

/// Most items of one page.
const MOST_OF_ONE: usize = 4;

/// The waiting items, in a lane for each page.
#[derive(Debug)]
pub(super) struct Fair<T> {
    /// The first lane has the next turn. No lane is empty.
    lanes: VecDeque<(String, VecDeque<T>)>,
}

impl<T> Default for Fair<T> {
    fn default() -> Self {
        Self {
            lanes: VecDeque::new(),
        }
    }
}

/// Why the queue takes no more.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::serve) enum Full {
    /// The queue is full.
    Queue,
    /// The page has enough items waiting.
    Page,
}

impl<T> Fair<T> {
    /// Puts an item behind the others of the same page.
    pub(super) fn push(&mut self, page: &str, item: T) -> Result<(), Full> {
        if self.len() >= MOST {
            return Err(Full::Queue);
        }
        match self.lanes.iter_mut().find(|(of, _)| of == page) {
            Some((_, lane)) if lane.len() >= MOST_OF_ONE => return Err(Full::Page),
            Some((_, lane)) => lane.push_back(item),
            None => self
                .lanes
                .push_back((page.to_owned(), VecDeque::from([item]))),
        }
        Ok(())
    }

    /// The next item. Its page then waits until all others had a turn.
    pub(super) fn pop(&mut self) -> Option<T> {
        let (page, mut lane) = self.lanes.pop_front()?;
        let item = lane.pop_front();
        if !lane.is_empty() {
            self.lanes.push_back((page, lane));
        }
        item
    }

    /// Removes the first item that fits.
    pub(super) fn remove(&mut self, fits: impl Fn(&T) -> bool) -> Option<T> {
        let found = self.lanes.iter().enumerate().find_map(|(i, (_, lane))| {
            let place = lane.iter().position(&fits)?;
            Some((i, place))
        });
        let (i, place) = found?;
        let item = self.lanes[i].1.remove(place);
        if self.lanes[i].1.is_empty() {
            self.lanes.remove(i);
        }
        item
    }

    /// How many items come before the first that fits; `None` if none fits.
    pub(super) fn before(&self, fits: impl Fn(&T) -> bool) -> Option<usize> {
        let (own, round) = self.lanes.iter().enumerate().find_map(|(i, (_, lane))| {
            let place = lane.iter().position(&fits)?;
            Some((i, place))
        })?;
        let others = self.lanes.iter().enumerate().filter(|(i, _)| *i != own);
        // A lane in front has one more turn before it than a lane behind.
        let turns = others.map(|(i, (_, lane))| lane.len().min(round + usize::from(i < own)));
        Some(round + turns.sum::<usize>())
    }

    fn len(&self) -> usize {
        self.lanes.iter().map(|(_, lane)| lane.len()).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn filled(asked: &[(&str, u32)]) -> Fair<u32> {
        let mut queue = Fair::default();
        for (page, item) in asked {
            queue.push(page, *item).expect("room");
        }
        queue
    }

    /// Shows (serve): jobs take turns between pages, and can be stopped. With: `one_page_cannot_fill_it`,
    /// `serve::a_job_can_be_stopped_and_the_next_ones_run`. Source: none: own rule.
    #[test]
    fn pages_take_turns() {
        let asked = [("a", 1), ("a", 2), ("a", 3), ("b", 4), ("c", 5), ("b", 6)];
        let mut queue = filled(&asked);
        for (_, item) in asked {
            let told = queue.before(|i| *i == item);
            let mut copy = filled(&asked);
            let order: Vec<u32> = std::iter::from_fn(|| copy.pop()).collect();
            assert_eq!(told, order.iter().position(|i| *i == item), "{item}");
        }
        let order: Vec<u32> = std::iter::from_fn(|| queue.pop()).collect();
        assert_eq!(order, [1, 4, 5, 2, 6, 3]);
        assert_eq!(queue.before(|_| true), None);
    }

    #[test]
    fn one_page_cannot_fill_it() {
        let mut queue = Fair::default();
        for i in 0..MOST_OF_ONE {
            assert_eq!(queue.push("greedy", i), Ok(()));
        }
        assert_eq!(queue.push("greedy", 9), Err(Full::Page));
        assert_eq!(queue.push("other", 9), Ok(()));
        let room = MOST - MOST_OF_ONE - 1;
        for i in 0..room {
            assert_eq!(queue.push(&format!("p{i}"), i), Ok(()));
        }
        assert_eq!(queue.push("late", 1), Err(Full::Queue));
        assert!(queue.pop().is_some());
        assert_eq!(queue.push("late", 1), Ok(()));
    }

    #[test]
    fn what_is_taken_out_leaves_the_others_in_their_order() {
        let mut queue = filled(&[("a", 1), ("a", 2), ("b", 3)]);
        assert_eq!(queue.remove(|i| *i == 1), Some(1));
        assert_eq!(queue.remove(|i| *i == 1), None);
        assert_eq!(queue.remove(|i| *i == 3), Some(3));
        assert_eq!((queue.pop(), queue.pop()), (Some(2), None));
    }
}
