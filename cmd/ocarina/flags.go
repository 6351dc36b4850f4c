package main

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// wantedBy says what a flag takes.
func wantedBy(f *pflag.Flag) string {
	switch f.Value.Type() {
	case "float64":
		return "a number"
	case "float64Slice":
		return "numbers separated by commas, such as 25,33.5"
	case "int":
		return "a whole number"
	case "uint64":
		return "a whole number, not below 0"
	case "bool":
		return "true or false"
	case "stringSlice":
		return "names separated by commas"
	}
	return f.Usage
}

// flagFault says of a flag's value that cannot be read what was found and what
// is wanted.
func flagFault(_ *cobra.Command, err error) error {
	var invalid *pflag.InvalidValueError
	if !errors.As(err, &invalid) {
		return err
	}
	flag := invalid.GetFlag()
	found := strconv.QuoteToGraphic(invalid.GetValue())
	var number *strconv.NumError
	if errors.As(err, &number) && number.Num != invalid.GetValue() {
		if one := strings.TrimSpace(number.Num); one != "" {
			found = strconv.QuoteToGraphic(one) + " in " + found
		} else {
			found = "an empty place in " + found
		}
	}
	wanted := wantedBy(flag)
	if errors.Is(err, strconv.ErrRange) {
		wanted += " of a size that can be held"
	}
	return fmt.Errorf("--%s: found %s, wanted %s", flag.Name, found, wanted)
}

// finite refuses flags that are read as numbers and are none.
func finite(c *cobra.Command, _ []string) (err error) {
	c.Flags().Visit(func(f *pflag.Flag) {
		var list []float64
		switch f.Value.Type() {
		case "float64":
			v, _ := c.Flags().GetFloat64(f.Name)
			list = []float64{v}
		case "float64Slice":
			list, _ = c.Flags().GetFloat64Slice(f.Name)
		}
		for _, v := range list {
			if (math.IsNaN(v) || math.IsInf(v, 0)) && err == nil {
				err = asked("--%s: found %g, wanted %s", f.Name, v, wantedBy(f))
			}
		}
	})
	return err
}

// aboveZero refuses flags that were given and are not above zero, where leaving
// them out means something else.
func aboveZero(c *cobra.Command, names ...string) error {
	for _, name := range names {
		f := c.Flags().Lookup(name)
		if !f.Changed {
			continue
		}
		if v, err := strconv.ParseFloat(f.Value.String(), 64); err != nil || !(v > 0) {
			return asked("--%s: found %s, wanted more than zero", name, f.Value)
		}
	}
	return nil
}
