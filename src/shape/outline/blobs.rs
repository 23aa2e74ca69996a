//! Connected dots of one kind, and which of them look like a bar.

/// Connected dots of one kind.
#[derive(Clone, Copy, Debug)]
pub(super) struct Blob {
    pub(super) dots: usize,
    /// Left, top, right, bottom; ends included.
    pub(super) bounds: [usize; 4],
    sums: [f64; 5],
}

impl Blob {
    fn new(x: usize, y: usize) -> Self {
        Self {
            dots: 0,
            bounds: [x, y, x, y],
            sums: [0.0; 5],
        }
    }

    fn take(&mut self, x: usize, y: usize) {
        self.dots += 1;
        let [left, top, right, bottom] = self.bounds;
        self.bounds = [left.min(x), top.min(y), right.max(x), bottom.max(y)];
        let (x, y) = (x as f64, y as f64);
        for (sum, part) in self.sums.iter_mut().zip([x, y, x * x, y * y, x * y]) {
            *sum += part;
        }
    }

    /// Whether it touches the edge of a picture.
    pub(super) fn at_edge(&self, width: usize, height: usize) -> bool {
        let [left, top, right, bottom] = self.bounds;
        left == 0 || top == 0 || right + 1 == width || bottom + 1 == height
    }

    /// The length of the bar it is, in dots, if it is one: a rectangle with sides L and W has
    /// second moments L²/12 and W²/12, each dot 1/12 of its own, and is filled.
    pub(super) fn bar(&self) -> Option<f64> {
        let n = self.dots as f64;
        let [x, y, xx, yy, xy] = self.sums.map(|sum| sum / n);
        let (xx, yy, xy) = (xx - x * x + 1.0 / 12.0, yy - y * y + 1.0 / 12.0, xy - x * y);
        let (middle, apart) = (f64::midpoint(xx, yy), ((xx - yy) / 2.0).hypot(xy));
        let [long, wide] = [middle + apart, middle - apart].map(|moment| (12.0 * moment).sqrt());
        let filled = n / (long * wide);
        (long >= 4.0 * wide && (0.9..1.1).contains(&filled)).then_some(long)
    }
}

/// Numbers each connected group of dots that are `wanted`, from 1, and describes it. With `corners`
/// dots that touch at a corner are connected.
pub(super) fn label(wanted: &[bool], width: usize, corners: bool) -> (Vec<u32>, Vec<Blob>) {
    let height = wanted.len() / width;
    let mut labels = vec![0_u32; wanted.len()];
    let (mut blobs, mut waiting) = (Vec::new(), Vec::new());
    for start in 0..wanted.len() {
        if !wanted[start] || labels[start] != 0 {
            continue;
        }
        let mut blob = Blob::new(start % width, start / width);
        let number = u32::try_from(blobs.len() + 1).unwrap_or(u32::MAX);
        labels[start] = number;
        waiting.push(start);
        while let Some(at) = waiting.pop() {
            let (x, y) = (at % width, at / width);
            blob.take(x, y);
            for ny in y.saturating_sub(1)..(y + 2).min(height) {
                for nx in x.saturating_sub(1)..(x + 2).min(width) {
                    let next = ny * width + nx;
                    let beside = nx == x || ny == y || corners;
                    if beside && wanted[next] && labels[next] == 0 {
                        labels[next] = number;
                        waiting.push(next);
                    }
                }
            }
        }
        blobs.push(blob);
    }
    (labels, blobs)
}
