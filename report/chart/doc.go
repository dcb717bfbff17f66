// Package chart draws the report's charts as SVG, each with its numbers as a
// table and a sentence that states what it shows.
//
//	c, err := chart.AllowanceByArea(patches)
//	fmt.Print(c.SVG)
package chart
