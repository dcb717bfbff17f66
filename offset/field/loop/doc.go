// Package loop closes the compensation: it grows a part, solves the bath's
// field on the part half-way through the removal, or through each step of it,
// predicts the finished surface and corrects the stock until the prediction comes out on
// nominal. What ran into itself while growing is resolved before it is solved.
//
// The rule that grows a surface is handed in; the prediction is this package's
// own, so that a fault of the one does not hide in the other.
package loop
