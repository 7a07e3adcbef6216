"""Lays demand on stock: parts on sheets, pieces on bars, within a time budget and always with an answer."""
