"""The people of the shop: users, their roles, and the short sign-in on a shared tablet."""
