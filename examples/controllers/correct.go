// A correct controller for `halfturn judge`, with the standard library of Go only.
//
// Run: go build -o correct examples/controllers/correct.go; then halfturn judge -- ./correct
package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
)

type event struct {
	Event, Travel, Why                                      string
	Target_deg, Tolerance_deg, Arc_start_deg, Arc_width_deg float64
	Band_deg, Symmetry, Zero_point_deg, Sense, Reading_deg  float64
	Position_angle_deg                                      float64
	Max_solves                                              int
}

// Into (-period/2, +period/2].
func residual(angle, period float64) float64 {
	rest := math.Mod(angle, period)
	if rest > period/2 {
		return rest - period
	} else if rest <= -period/2 {
		return rest + period
	}
	return rest
}

func move(told event, wanted, band float64) {
	start, width := told.Arc_start_deg, told.Arc_width_deg
	if told.Travel == "endless" { // whole turns do not matter
		centre := start + width/2
		wanted = centre + residual(wanted-centre, 360)
	}
	if wanted < start-band || wanted >= start+width+band {
		wanted = start + math.Mod(math.Mod(wanted-start, width)+width, width)
	}
	fmt.Printf("{\"do\":\"move\",\"drive_deg\":%v}\n", wanted)
}

func main() {
	events := json.NewDecoder(os.Stdin)
	var told event
	reading, solves := 0.0, 0
	for {
		var now event
		if events.Decode(&now) != nil || now.Event == "end" {
			return
		}
		switch now.Event {
		case "begin":
			told, reading, solves = now, now.Reading_deg, 0
			move(told, told.Sense*(told.Target_deg-told.Zero_point_deg), 0)
		case "moved":
			reading = now.Reading_deg
			fmt.Println(`{"do":"solve"}`)
		case "solve-failed":
			fmt.Println(`{"do":"solve"}`)
		case "refused":
			fmt.Println(`{"do":"give-up"}`)
		case "solved":
			solves++
			off := residual(told.Target_deg-now.Position_angle_deg, 360/told.Symmetry)
			if math.Abs(off) <= told.Tolerance_deg {
				fmt.Println(`{"do":"done"}`)
			} else if solves >= told.Max_solves {
				fmt.Println(`{"do":"give-up"}`)
			} else {
				move(told, reading+told.Sense*off, told.Band_deg)
			}
		}
	}
}
