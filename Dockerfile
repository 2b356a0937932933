# Tagline in a container: built from source in one stage, run by an ordinary user in the next.
#
#   docker build -t tagline .
#   docker run --rm -p 127.0.0.1:8080:8080 -v tagline-data:/var/lib/tagline tagline
#
# Own floor: import it on the page Floor, and publish it. Own carts: add them on the page Carts and
# revoke the demo's, whose keys are known to everybody. Both files are in the volume, because a file
# that is mounted by itself can't be replaced. To be called by a name, append to the command --host NAME.
# The setup code for the first account is in its log. Behind a proxy add --proxy ADDRESS.

FROM debian:12-slim AS build
WORKDIR /src
# Only what installing needs, so that these layers are kept until it changes.
COPY deploy/run deploy/packages.txt deploy/
COPY web/package.json web/package-lock.json web/
RUN deploy/run install build
COPY . .
RUN deploy/run build && DESTDIR=/out cmake --install build --prefix /usr/local

FROM debian:12-slim
COPY deploy/run deploy/packages.txt /usr/local/lib/tagline/deploy/
RUN /usr/local/lib/tagline/deploy/run install run \
  && rm -rf /var/lib/apt/lists/* /usr/local/lib/tagline/deploy \
  && useradd --system --home-dir /var/lib/tagline --create-home --uid 810 tagline
COPY --from=build /out/ /
COPY --chown=tagline:tagline deploy/demo.floor.json /var/lib/tagline/floor.json
COPY --chown=tagline:tagline deploy/demo.fleet.json /var/lib/tagline/fleet.json
USER tagline
VOLUME /var/lib/tagline
EXPOSE 8080
STOPSIGNAL SIGTERM
HEALTHCHECK --interval=10s --timeout=3s --start-period=5s --retries=3 \
  CMD ["curl", "-fsS", "http://127.0.0.1:8080/api/health"]
ENTRYPOINT ["tagline"]
CMD ["serve", "--floor", "/var/lib/tagline/floor.json", "--fleet", "/var/lib/tagline/fleet.json", \
  "--data", "/var/lib/tagline", "--listen", "0.0.0.0", "--port", "8080"]
