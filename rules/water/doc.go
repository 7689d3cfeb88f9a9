// Package water gives the properties of liquid water that the other rules
// need: saturation pressure, density, heat capacity, enthalpy, speed of sound
// and viscosity.
//
// It owns IAPWS-IF97 region 1 (compressed liquid) and region 4 (saturation
// line), and the IAPWS viscosity release R12-08 with its critical enhancement
// set to 1, as that release recommends for industrial use; the enhancement
// matters only within a few kelvin of the critical point at 647 K, which
// region 1 doesn't reach. It refuses steam, ice, two-phase mixtures and
// metastable liquid: below the saturation pressure of its temperature water
// boils, so every liquid property is then ok=false and not the number of a
// liquid that isn't there. (By this formulation water at 101325 Pa boils at
// 99.974 C, so "100 C at one atmosphere" is refused.)
//
// Temperatures are kelvin on the ITS-90 scale, pressures absolute pascal. The
// range of every liquid function is 273.15 to 623.15 K, from the saturation
// pressure to 100 MPa; Table covers what the product meets, 273.15 to
// 373.15 K up to 1 MPa.
//
// # Antifreeze is not modelled
//
// Everything here is pure water. With glycol or alcohol in the loop the errors
// go like this (ASHRAE Handbook Fundamentals, chapter on secondary coolants,
// from memory; the size depends on the mixture and no figure is given here):
//   - A glycol mixture is more viscous, several times so near freezing: real
//     friction is higher than computed and suction headroom is overstated.
//   - A glycol mixture has a lower heat capacity: it heats faster than
//     computed and the time to the temperature limit is overstated.
//   - A glycol mixture has a slightly lower vapour pressure and a slightly
//     higher density: the boiling margin is understated, the safe direction.
//   - An alcohol mixture (methanol, ethanol) has a HIGHER vapour pressure: it
//     boils sooner than computed and suction headroom is overstated.
//   - Either freezes below 273.15 K, where these functions answer ok=false.
//
// So readings taken while antifreeze is run through count as indicative only.
//
// Sources: IAPWS R7-97(2012), Release on the Industrial Formulation 1997;
// IAPWS R12-08, Release on the Viscosity of Ordinary Water Substance.
package water
