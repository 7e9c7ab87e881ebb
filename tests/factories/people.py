import factory
from factory.django import DjangoModelFactory

from people.models import Staff

PASSWORD = "three wet carts at dawn"


class StaffFactory(DjangoModelFactory):
    class Meta:
        model = Staff
        skip_postgeneration_save = True

    username = factory.Sequence(lambda n: f"person{n}")
    full_name = factory.Sequence(lambda n: f"Person Number {n}")
    role = "yard_hand"

    @factory.post_generation
    def password(self, create, extracted, **kwargs):
        self.set_password(extracted or PASSWORD)
        self.save()
