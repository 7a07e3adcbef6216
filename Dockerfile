# One image for web, workers, beat and migrations; docker-compose.yml says which is which.
FROM python:3.12-slim

# Open CASCADE, which reads STEP, is linked to both; nothing is drawn with them.
RUN apt-get update \
  && apt-get install -y --no-install-recommends libgl1 libx11-6 \
  && rm -rf /var/lib/apt/lists/* \
  && pip install --no-cache-dir uv \
  && useradd --system --uid 1000 --create-home shop \
  && install -d -o shop /data

WORKDIR /app
# What the server runs on, without the tools of developers, in the versions and with the hashes of the lock file.
COPY pyproject.toml requirements.lock ./
RUN uv pip install --system --no-cache --require-hashes --requirements pyproject.toml --extra step --constraints requirements.lock

COPY . .
# Static files are served from where they lie, so there is no collect step.
ENV SHOP_NO_BOOTSTRAP=1 SHOP_DATA=/data DJANGO_SETTINGS_MODULE=shopfloor.settings PYTHONUNBUFFERED=1
USER shop
EXPOSE 8000
