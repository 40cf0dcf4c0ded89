"""The browsers that are rung, as JSON."""

from __future__ import annotations

from fastapi import APIRouter

from api.asked import Key, TheReplays, TheShop
from api.models import READ, WRITE
from api.push_models import DeviceOut, PushIn, PushOut, PushTestOut

router = APIRouter(prefix="/api/push", tags=["the shop"])


@router.get("", summary="The public key, and the browsers that are rung", responses=READ)
def push(shop: TheShop) -> PushOut:
    return PushOut.model_validate(shop.push.now())


@router.post("", status_code=201, summary="Ring a browser from now on", responses=WRITE)
def keep(shop: TheShop, told: PushIn, key: Key, replays: TheReplays) -> DeviceOut:
    """The same endpoint again takes the place of what was kept."""
    new = told.subscription.subscription()
    kept = replays.once(key, told, lambda: shop.push.keep(new, told.person, told.device, told.replaces))
    return DeviceOut.model_validate(kept)


@router.delete("/{device_id}", summary="Ring a browser no more", responses=WRITE)
def forget(shop: TheShop, device_id: int, key: Key) -> PushOut:
    """Answers with those that are left."""
    shop.push.forget(device_id)
    return PushOut.model_validate(shop.push.now())


@router.post("/{device_id}/test", summary="Push a test message to one browser", responses=WRITE)
def test(shop: TheShop, device_id: int, key: Key, replays: TheReplays) -> PushTestOut:
    answer = replays.once(key, ("test of a browser", device_id), lambda: shop.push.test(device_id))
    return PushTestOut(taken=answer.taken, words=answer.words)
