package field
import ("testing";"time";"skinstock/mesh/solid";"github.com/golang/geo/r3")
func TestTune(t *testing.T){
 m:=solid.Box(r3.Vector{},r3.Vector{X:1,Y:1,Z:1})
 for _,n:=range []int{1000,3000,10000}{
  t0:=time.Now()
  r:=solved(t,m,Options{MaxPanels:n})
  t.Logf("cube %d panels it %d near %d %v",r.Panels,r.Iterations,r.NearEntries/r.Panels,time.Since(t0))
  t.Logf("%+v",r.Balance); within(t,"cube",r.CapacitanceMM,0.66067815,0.003)
 }
 for _,n:=range []int{1000,5000}{
  m:=ellipsoid(3,2,1,6)
  t0:=time.Now()
  r:=solved(t,m,Options{MaxPanels:n})
  t.Logf("ellipsoid %d panels it %d near %d %v",r.Panels,r.Iterations,r.NearEntries/r.Panels,time.Since(t0))
  t.Logf("%+v",r.Balance);within(t,"C",r.CapacitanceMM,1.9660092007,0.003)
  within(t, "flux at the x tip", fluxAt(m, r, r3.Vector{X: 3}), .9830046, 0.01)
  within(t, "flux at the y tip", fluxAt(m, r, r3.Vector{Y: 2}), .65533, 0.01)
  within(t, "flux at the z tip", fluxAt(m, r, r3.Vector{Z: 1}), .3276682, 0.01)
 }
}
