"""Optical drives and the media in them."""
