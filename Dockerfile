# One image for web, worker, beat and migrate: docker-compose.yml says which command each runs.
FROM python:3.11-slim-bookworm

# WeasyPrint's libraries: no wheel carries them.
RUN apt-get update \
    && apt-get install -y --no-install-recommends libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 \
    && rm -rf /var/lib/apt/lists/*

# A number of its own, so that files on a volume and the seal's key can be given to it by number.
RUN groupadd --gid 10001 slake && useradd --uid 10001 --gid 10001 --no-create-home --home-dir /app slake

ENV PYTHONUNBUFFERED=1 \
    PYTHONDONTWRITEBYTECODE=1 \
    DJANGO_SETTINGS_MODULE=config.settings.production \
    SLAKE_MODE=production \
    SLAKE_FILES_DIR=/var/lib/slake/files \
    SLAKE_STATIC_DIR=/app/static-gathered

WORKDIR /app
COPY requirements.txt ./
RUN pip install --no-cache-dir --require-hashes -r requirements.txt

COPY manage.py ./
COPY config ./config
COPY people ./people
COPY fleet ./fleet
COPY inspections ./inspections
COPY servicing ./servicing
COPY hire ./hire
COPY templates ./templates
COPY static ./static

# Stand-ins for what the yard decides later: gathering static files reads settings and reaches nothing.
RUN SLAKE_SECRET_KEY=gathering-only SLAKE_ALLOWED_HOSTS=build SLAKE_PUBLIC_ADDRESS=https://build YARD_NAME=build \
    SLAKE_DATABASE_URL=postgresql://build@build/build SLAKE_REDIS_URL=redis://build \
    python manage.py collectstatic --no-input --verbosity 0 \
    && mkdir -p /var/lib/slake/files && chown slake:slake /var/lib/slake/files

USER slake
EXPOSE 8400
CMD ["granian", "--interface=wsgi", "--host=0.0.0.0", "--port=8400", "--workers=2", "--blocking-threads=16", "--no-ws", "config.wsgi:application"]
