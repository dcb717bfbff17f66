// Package calibrate fits a recipe to coupons: small pieces printed at known
// inclinations, measured, treated in the bath and measured again.
//
// [Read] takes the coupons from a CSV table and refuses a bad row by line and
// cause; [Run] fits levelling depth and floor, removal rate, current efficiency,
// roughness against inclination, and from removal against depth in holes the
// polarisation length of the bath, by robust least squares, with 95 % intervals
// and outliers by name, and writes what it found into a copy of a recipe.
//
// All fits work on logarithms: scatter of roughness, depth and mass is taken as
// a share of the value, the same for all coupons. An outlier is turned down, not
// removed. The package reads no files and draws no charts.
package calibrate
