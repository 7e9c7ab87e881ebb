#!/bin/sh
# Run once by the database image, on an empty volume: the owner migrates, the application runs.
set -eu
psql --set=ON_ERROR_STOP=1 --username "$POSTGRES_USER" --dbname postgres \
    --set=owner_password="$SLAKE_OWNER_PASSWORD" --set=app_password="$SLAKE_APP_PASSWORD" <<'END'
CREATE ROLE slake_owner LOGIN PASSWORD :'owner_password';
CREATE ROLE slake_app LOGIN PASSWORD :'app_password';
CREATE DATABASE slake OWNER slake_owner TEMPLATE template0 ENCODING 'UTF8' LOCALE 'C.UTF-8';
REVOKE ALL ON DATABASE slake FROM PUBLIC;
GRANT CONNECT ON DATABASE slake TO slake_app;
END
