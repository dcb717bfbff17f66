// Package residual draws how far coupons lie from the fits of a calibration, as
// SVG or PNG, the same bytes for the same data. Colours are Okabe and Ito's, and
// no meaning hangs on colour alone. The numbers are in the result it draws.
package residual
