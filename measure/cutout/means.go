package cutout

// Means is how cylinders are cut.
type Means string
