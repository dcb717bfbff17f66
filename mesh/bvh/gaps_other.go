//go:build !amd64

package bvh

import "github.com/golang/geo/r3"

const hasLanes = false

func gaps(*wideNode, *[3]float32, float32, *[width]float32) uint32 { panic("bvh: no lanes") }

func slabs(*wideNode, *wideRay, float32, *[width]float32) uint32 { panic("bvh: no lanes") }

func overlaps(*float32, int, *bounds) uint32 { panic("bvh: no lanes") }

func within(*wideNode, *[3]float32, *[3]float32, float32) uint32 { panic("bvh: no lanes") }

func distances(*[3]int32, *r3.Vector, *[4]int32, *r3.Vector, *[4]float64) { panic("bvh: no lanes") }
