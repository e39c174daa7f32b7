//! Connected regions of a mask.

/// One region.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Region {
    /// Pixels in it.
    pub area: usize,
    /// Leftmost and topmost pixel.
    pub from: [usize; 2],
    /// Rightmost and lowest pixel.
    pub to: [usize; 2],
}

impl Region {
    /// Does it touch the edge of a picture of this size?
    #[must_use]
    pub fn touches_edge(&self, width: usize, height: usize) -> bool {
        self.from.contains(&0) || self.to[0] + 1 == width || self.to[1] + 1 == height
    }
}

/// Numbers the regions from 1 in reading order; 0 is outside the mask. `diagonal`: corners connect too.
#[must_use]
pub fn regions(mask: &[bool], width: usize, height: usize, diagonal: bool) -> (Vec<u32>, Vec<Region>) {
    let mut label = vec![0_u32; mask.len()];
    let mut parent = vec![0_u32];
    fn root(parent: &mut [u32], mut i: u32) -> u32 {
        while parent[i as usize] != i {
            parent[i as usize] = parent[parent[i as usize] as usize];
            i = parent[i as usize];
        }
        i
    }
    for y in 0..height {
        for x in 0..width {
            let i = y * width + x;
            if !mask[i] {
                continue;
            }
            let mut near = [0_u32; 4];
            if x > 0 {
                near[0] = label[i - 1];
            }
            if y > 0 {
                near[1] = label[i - width];
                if diagonal && x > 0 {
                    near[2] = label[i - width - 1];
                }
                if diagonal && x + 1 < width {
                    near[3] = label[i - width + 1];
                }
            }
            let mut mine = 0;
            for n in near.into_iter().filter(|&n| n > 0) {
                let n = root(&mut parent, n);
                if mine == 0 {
                    mine = n;
                } else if n != mine {
                    let (low, high) = (mine.min(n), mine.max(n));
                    parent[high as usize] = low;
                    mine = low;
                }
            }
            if mine == 0 {
                mine = parent.len() as u32;
                parent.push(mine);
            }
            label[i] = mine;
        }
    }
    let mut number = vec![0_u32; parent.len()];
    let mut found: Vec<Region> = Vec::new();
    for (i, l) in label.iter_mut().enumerate().filter(|(_, l)| **l > 0) {
        let r = root(&mut parent, *l) as usize;
        let (x, y) = (i % width, i / width);
        if number[r] == 0 {
            found.push(Region { area: 0, from: [x, y], to: [x, y] });
            number[r] = found.len() as u32;
        }
        *l = number[r];
        let region = &mut found[number[r] as usize - 1];
        region.area += 1;
        region.from[0] = region.from[0].min(x);
        region.to = [region.to[0].max(x), y];
    }
    (label, found)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_letter_u_is_one_region_and_corners_count_only_when_asked() {
        let mask = [1, 0, 1, 0, 1, 0, 1, 0, 1, 1, 1, 0, 0, 0, 0, 1].map(|v| v == 1);
        let (label, found) = regions(&mask, 4, 4, false);
        assert_eq!(found.len(), 2);
        assert_eq!((label[0], label[2], label[15]), (1, 1, 2));
        assert_eq!(found[0], Region { area: 7, from: [0, 0], to: [2, 2] });
        assert_eq!(regions(&mask, 4, 4, true).1.len(), 1);
    }
}
