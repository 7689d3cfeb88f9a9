// Package usbip is the device side of the kernel's USB/IP protocol, just as
// much of it as vhci_hcd needs to take a program for a USB device: one device,
// control transfers, unlink. On it stands Adapter, a USB-to-I2C adapter of the
// open i2c-tiny-usb kind with models of chips behind it, so that the stock
// kernel's own I2C stack runs unchanged between a driver and a model. It owns
// no model of a chip and refuses everything but endpoint 0.
//
// Source of the protocol: the Linux kernel's Documentation/usb/usbip_protocol.rst;
// of the adapter's requests: drivers/i2c/busses/i2c-tiny-usb.c.
package usbip
