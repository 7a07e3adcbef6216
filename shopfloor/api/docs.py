"""The description of the API for programs, and the page that shows it to people.

The page runs under the site's content policy: its start script is served as a file of its own, and nothing is fetched
from elsewhere.
"""

from drf_spectacular.views import SpectacularAPIView, SpectacularSwaggerSplitView

from shopfloor.api.permissions import ByRole


class SchemaView(SpectacularAPIView):
    permission_classes = (ByRole,)


class DocsView(SpectacularSwaggerSplitView):
    """The page. Who is not signed in is sent to the sign-in page, as from any other page."""

    permission_classes = (ByRole,)
    url_name = "api:schema"
