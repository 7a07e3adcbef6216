"""People for office corrections; the shop's own page for them is `views_people`."""

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin

from shopfloor.accounts.models import User

admin.site.register(User, UserAdmin)
