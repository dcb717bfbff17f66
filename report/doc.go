// Package report turns the result of a run into what people and programs read:
// the versioned JSON document, the terminal summary and the report page.
package report
