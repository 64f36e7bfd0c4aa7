//! Where the boxes of a lineage chart stand.

use proptest::prelude::*;
use silkward::reckoning::lineage::{BOX_HEIGHT, BOX_WIDTH, Side, Tree};

#[test]
fn parents_stand_left_and_young_right_of_the_one_that_is_asked_about() {
    let mut tree = Tree::new();
    let (dam, sire) = (tree.add(0, Side::Up), tree.add(0, Side::Up));
    let brood = tree.add(0, Side::Down);
    let granny = tree.add(dam, Side::Down);
    let layout = tree.layout();
    let x = |number: usize| layout.places[number].x;
    assert!(x(granny) < x(dam) && x(dam) == x(sire) && x(sire) < x(0) && x(0) < x(brood), "further out the side is that of the neighbour");
    let y = |number: usize| layout.places[number].y;
    assert!(y(dam) < y(0) && y(0) < y(sire), "between its parents");
    assert_eq!(layout.edges.iter().filter(|edge| edge.young == 0).map(|edge| edge.parent).collect::<Vec<_>>(), [dam, sire]);
    assert_eq!(layout.edges[2].parent, 0);
    let alone = Tree::new().layout();
    assert_eq!((alone.places.len(), alone.edges.len(), alone.width > BOX_WIDTH, alone.height > BOX_HEIGHT), (1, 0, true, true));
}

proptest! {
    #[test]
    fn no_boxes_touch_all_lie_in_the_drawing_and_edges_join_parent_and_young(grown in prop::collection::vec((any::<prop::sample::Index>(), any::<bool>()), 0..120)) {
        let mut tree = Tree::new();
        let mut hangs_on = vec![0];
        for (on, up) in grown {
            let on = on.index(tree.len());
            tree.add(on, if up { Side::Up } else { Side::Down });
            hangs_on.push(on);
        }
        let layout = tree.layout();
        prop_assert_eq!(layout.places.len(), tree.len());
        for (number, place) in layout.places.iter().enumerate() {
            prop_assert!(place.x + BOX_WIDTH < layout.width && place.y + BOX_HEIGHT < layout.height);
            for other in &layout.places[..number] {
                let beside = place.x.abs_diff(other.x) > BOX_WIDTH || place.y.abs_diff(other.y) > BOX_HEIGHT;
                prop_assert!(beside, "{:?} and {:?} touch", place, other);
            }
        }
        prop_assert_eq!(layout.edges.len(), tree.len() - 1);
        for (edge, number) in layout.edges.iter().zip(1..) {
            let ends = [edge.parent, edge.young];
            prop_assert!(ends.contains(&number) && ends.contains(&hangs_on[number]));
            let (parent, young) = (layout.places[edge.parent], layout.places[edge.young]);
            prop_assert_eq!(edge.from, (parent.x + BOX_WIDTH, parent.y + BOX_HEIGHT / 2));
            prop_assert_eq!(edge.to, (young.x, young.y + BOX_HEIGHT / 2));
            prop_assert!(edge.from.0 < edge.turn && edge.turn < edge.to.0);
        }
    }
}
