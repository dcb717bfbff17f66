package arrange
import ("testing";"context";"skinstock/mesh/meshtest")
func TestDbg(t *testing.T){
 m := load(t, meshtest.Shared(t,"l-bracket.stl"))
 s,_ := fromMesh(m); s.link()
 cs,_ := newTree(s).contacts(context.Background(),1)
 for i,c := range cs { if i>12 {break}; t.Log(c.a,c.b,s.facets[c.a],s.facets[c.b]); a,b,d:=s.corners(c.a); t.Log(a,b,d); a,b,d=s.corners(c.b); t.Log(a,b,d)}
}
