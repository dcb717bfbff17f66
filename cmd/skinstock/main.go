// Command skinstock adds to a metal part what the polishing bath will take.
package main

func main() {}
