# The program is built in the first stage; the second holds nothing but it.
FROM rust:1.95-bookworm AS build
WORKDIR /src
COPY . .
RUN cargo build --release --locked

FROM debian:bookworm-slim
RUN useradd --uid 10001 --no-create-home holdover && mkdir /data && chown holdover /data
COPY --from=build /src/target/release/holdover /usr/local/bin/holdover
USER holdover
VOLUME /data
EXPOSE 8080
ENTRYPOINT ["/usr/local/bin/holdover"]
CMD ["serve", "--listen", "0.0.0.0:8080", "--data", "/data"]
