"""Customers, orders, their lines, and how far each line has come."""
